"""Derived time of lines and programs, changes of set-up, and whether a program fits its slot (rule V2)."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from programming.rules.lines import Line
from programming.rules.reference.faults import Row
from programming.rules.repertoire import ExerciseRow
from studio.rules import ApparatusKind


class Pace(StrEnum):
    FLUENT = "fluent"
    WORKING = "working"
    LEARNING = "learning"


@dataclass(frozen=True)
class Times:
    """The studio's time model. Seconds, except `pace` (factor on movement) and the two shares of a slot."""

    pace: Mapping[Pace, float] = field(hash=False)
    coaching: Mapping[Pace, float] = field(hash=False)
    arrival: float
    close: float
    new_exercise: float
    slot_default: float
    warn_share: float
    block_share: float
    warm_first: float


def times_from(rows: Sequence[Row]) -> Times:
    """The time model from the rows of session_time; KeyError when one is missing."""
    values = {row["key"]: float(row["value"]) for row in rows}
    return Times(
        pace={pace: values[f"pace_{pace}"] for pace in Pace},
        coaching={pace: values[f"coaching_{pace}"] for pace in Pace},
        arrival=values["arrival"],
        close=values["close"],
        new_exercise=values["new_exercise"],
        slot_default=values["slot_default"],
        warn_share=values["warn_share"],
        block_share=values["block_share"],
        warm_first=values["warm_first"],
    )


def planned_seconds(row: ExerciseRow, reps: float | None = None) -> float:
    """Set-up and movement of a row as written, before pace and coaching; mid-range repetitions unless given."""
    count = row.mid_reps if reps is None else reps
    return row.setup_seconds + count * row.side_factor * row.tempo_seconds_per_rep


def line_seconds(line: Line, times: Times, *, pace: Pace, new: bool = False) -> float:
    """What a line takes: set-up + movement x pace + coaching, and more when the exercise is new to the client."""
    seconds = line.row.setup_seconds + line.movement_seconds * times.pace[pace] + times.coaching[pace]
    return seconds + (times.new_exercise if new else 0.0)


def program_seconds(lines: Sequence[Line], times: Times, *, pace: Pace, new: int = 0) -> float:
    """A whole lesson: arrival, every line, `new` exercises not met before, close."""
    body = sum(line_seconds(line, times, pace=pace) for line in lines)
    return times.arrival + body + new * times.new_exercise + times.close


class Fit(StrEnum):
    """Rule V2."""

    FITS = "fits"
    WARN = "warn"
    BLOCK = "block"


@dataclass(frozen=True)
class Slot:
    """The time a lesson has, in seconds."""

    seconds: float

    def share(self, program: float) -> float:
        return program / self.seconds

    def check(self, program: float, times: Times) -> Fit:
        """Over the warning share warns, over the blocking share blocks; exactly the share still passes."""
        if self.share(program) > times.block_share:
            return Fit.BLOCK
        return Fit.WARN if self.share(program) > times.warn_share else Fit.FITS


@dataclass(frozen=True)
class SetUpChanges:
    """Changes of set-up (rule 2). `equipment` counts foot bar, headrest, box and hold, each one that differs."""

    springs: int = 0
    equipment: int = 0
    position: int = 0
    apparatus: int = 0

    @property
    def total(self) -> int:
        return self.springs + self.equipment + self.position + self.apparatus

    def __add__(self, other: "SetUpChanges") -> "SetUpChanges":
        return SetUpChanges(
            self.springs + other.springs,
            self.equipment + other.equipment,
            self.position + other.position,
            self.apparatus + other.apparatus,
        )


# What is held hangs on the apparatus: loops and handles on the reformer, a bar or loops on the tower, a chair's pedal.
_HOLDS = ("attach", "bar", "loops", "handles", "sling", "pedal")


def _held(setup: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(setup.get(key, "none") for key in _HOLDS)


def changes_between(before: Line, after: Line) -> SetUpChanges:
    """What has to be changed between two neighbouring lines; a change of apparatus is one in all."""
    if before.row.apparatus is not after.row.apparatus:
        return SetUpChanges(apparatus=1)
    was, becomes = before.setup, after.setup
    parts = [was.get(key) != becomes.get(key) for key in ("footbar", "headrest", "box")]
    return SetUpChanges(
        springs=int(before.springs != after.springs),
        equipment=sum(parts) + int(_held(was) != _held(becomes)),
        position=int(before.row.start_position != after.row.start_position),
    )


def changes(lines: Sequence[Line]) -> SetUpChanges:
    """All changes of set-up from the first line to the last."""
    total = SetUpChanges()
    for before, after in itertools.pairwise(lines):
        total += changes_between(before, after)
    return total


def box_fetches(lines: Sequence[Line]) -> int:
    """How often a box is brought to a reformer (rule 4): each time one is needed and the line before had none."""
    fetched, placed = 0, False
    for line in lines:
        needs = line.row.apparatus is ApparatusKind.REFORMER and line.setup.get("box", "none") != "none"
        fetched += int(needs and not placed)
        placed = needs
    return fetched
