"""The sums of a draft: time, changes, fetches of the box, rounding and opening, seconds of what is often limited."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from programming.rules.lines import Line
from programming.rules.reference.faults import Row
from programming.rules.timing import (
    Fit,
    Pace,
    SetUpChanges,
    Slot,
    Times,
    box_fetches,
    changes_between,
    line_seconds,
    program_seconds,
)


@dataclass(frozen=True)
class LineSums:
    """When a line begins and what it takes, in seconds; what is changed at the machine before it."""

    begins: float
    seconds: float
    change: SetUpChanges


@dataclass(frozen=True)
class Exposure:
    """Seconds of one demand over the lesson, or in its longest unbroken run; the ceiling is for whoever is limited."""

    demand: str
    seconds: float
    ceiling: float
    is_run: bool

    @property
    def is_over(self) -> bool:
        return self.seconds > self.ceiling


@dataclass(frozen=True)
class Sums:
    """Of a whole lesson. `seconds` has arrival and close in it; `spare` is under zero when the lesson is too long."""

    lines: tuple[LineSums, ...]
    seconds: float
    slot: float
    fit: Fit
    changes: SetUpChanges
    boxes: int
    flexion: int
    extension: int
    longest_flexion: int
    exposure: tuple[Exposure, ...]

    @property
    def spare(self) -> float:
        return self.slot - self.seconds

    @property
    def set_up(self) -> int:
        """Changes of foot bar, headrest, box and hold, of position, and of apparatus: all but springs."""
        return self.changes.total - self.changes.springs


def sums(
    lines: Sequence[Line], times: Times, *, minutes: int, pace: Pace = Pace.WORKING, ceilings: Sequence[Row] = ()
) -> Sums:
    """All sums of a draft. `ceilings` are the rows of exposure_ceilings."""
    each = _each(lines, times, pace)
    seconds, slot = program_seconds(lines, times, pace=pace), Slot(minutes * 60)
    rounding = [line.is_flexion and not line.is_extension for line in lines]
    return Sums(
        lines=each,
        seconds=seconds,
        slot=slot.seconds,
        fit=slot.check(seconds, times),
        changes=sum((line.change for line in each), SetUpChanges()),
        boxes=box_fetches(lines),
        flexion=sum(line.is_flexion for line in lines),
        extension=sum(line.is_extension for line in lines),
        longest_flexion=max((len(list(run)) for is_one, run in itertools.groupby(rounding) if is_one), default=0),
        exposure=tuple(_exposure(lines, row) for row in ceilings),
    )


def _each(lines: Sequence[Line], times: Times, pace: Pace) -> tuple[LineSums, ...]:
    out: list[LineSums] = []
    clock = times.arrival
    for place, line in enumerate(lines):
        seconds = line_seconds(line, times, pace=pace)
        change = changes_between(lines[place - 1], line) if place else SetUpChanges()
        out.append(LineSums(clock, seconds, change))
        clock += seconds
    return tuple(out)


def _exposure(lines: Sequence[Line], row: Row) -> Exposure:
    demand, is_run = row["demand"], "run" in row["per"]
    longest = total = 0.0
    for line in lines:
        has = demand in line.demands
        total = total + line.movement_seconds if has else 0.0 if is_run else total
        longest = max(longest, total)
    return Exposure(demand, longest, float(row["ceiling_seconds"]), is_run)
