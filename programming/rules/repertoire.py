"""The repertoire as the rules read it: exercise rows and ladders, typed, from the rows of the reference tables."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from programming.rules.reference.changes import Change, ChangeKind, changes
from programming.rules.reference.faults import Fault, Row, Tables, split
from programming.rules.reference.figures import figure_faults
from programming.rules.reference.practice import gate_faults, ladder_faults, pool_faults, repertoire_faults
from studio.rules import ApparatusKind

__all__ = [
    "Change",
    "ChangeKind",
    "ExerciseRow",
    "Fault",
    "Ladder",
    "LadderStep",
    "Repertoire",
    "SpringEffect",
    "StepKind",
    "changes",
    "exercise_from",
    "faults",
    "from_tables",
    "step_from",
]

FLEXION = frozenset({"flex_loaded", "flex_end"})
EXTENSION = frozenset({"ext_loaded", "ext_end"})


class SpringEffect(StrEnum):
    """What more spring does: more work, more help, both ways, or only stillness."""

    RESIST = "resist"
    ASSIST = "assist"
    MIXED = "mixed"
    FIX = "fix"
    NONE = "none"

    @property
    def fewer_springs(self) -> str:
        """In words, what one spring fewer does to the work."""
        return {"resist": "easier", "assist": "harder", "mixed": "usually harder"}.get(self.value, "no change of work")


class StepKind(StrEnum):
    SETUP = "setup"
    REGRESSION = "regression"
    PROGRESSION = "progression"
    EMBELLISHMENT = "embellishment"
    FAULT_CUE = "fault_cue"
    STOP = "stop"


@dataclass(frozen=True)
class ExerciseRow:
    """One exercise part, named by the columns of the reference; times in seconds, springs as reference counts."""

    id: str
    apparatus: ApparatusKind
    order_in_apparatus: int
    series: str
    position_in_series: int
    exercise: str
    part: str
    springs_usual: int | None
    springs_min: int | None
    springs_max: int | None
    spring_effect: SpringEffect
    reps_low: int
    reps_high: int
    reps_basis: str
    side_factor: int
    pattern: str
    tempo_seconds_per_rep: float
    start_position: str
    demands: frozenset[str]
    removable: frozenset[str]
    stretch_joint: tuple[str, ...]
    level: int
    supervision: int
    prerequisites: tuple[tuple[str, ...], ...]
    prerequisite_words: str
    purpose: tuple[str, ...]
    setup_seconds: float
    setup: Mapping[str, str] = field(hash=False)
    usual_regression: str
    regression_adds: frozenset[str]
    family: str
    rep_pool: str
    rep_pool_total: int | None
    rep_pool_role: str
    rep_pool_min: int | None
    origin: str
    rtl1945_reps: str
    rtl1945_count: int | None
    rtl1945_source: str
    note: str

    @property
    def name(self) -> str:
        return f"{self.exercise}: {self.part}" if self.part else self.exercise

    @property
    def mid_reps(self) -> float:
        """The middle of the repetition range, which may be a half."""
        return (self.reps_low + self.reps_high) / 2

    @property
    def regressed_demands(self) -> frozenset[str]:
        """Demands when the usual regression is chosen: what it takes away is gone, what it brings in is there."""
        return (self.demands - self.removable) | self.regression_adds

    def demands_as(self, *, regressed: bool) -> frozenset[str]:
        return self.regressed_demands if regressed else self.demands


@dataclass(frozen=True)
class LadderStep:
    """One step: a delta (`removes`, `adds`), or a substitution when `substitutes` names a row."""

    ladder: str
    code: str
    kind: StepKind
    exercise_ids: tuple[str, ...]
    when_seen: str
    change: str
    removes: frozenset[str]
    adds: frozenset[str]
    substitutes: str


@dataclass(frozen=True)
class Ladder:
    """A ladder with its gate: how long to repeat, and how to advance."""

    name: str
    steps: tuple[LadderStep, ...]
    repeat_while: str
    advance_by: str


@dataclass(frozen=True)
class Repertoire:
    exercises: Mapping[str, ExerciseRow]
    ladders: Mapping[str, Ladder]


def _count(value: str) -> int | None:
    return int(value) if value else None


def _setup(value: str) -> dict[str, str]:
    """`key=value` pairs; a bare word (`mat`, `handles`) stands for itself."""
    pairs = (part.partition("=") for part in split(value))
    return {key: after if sign else key for key, sign, after in pairs}


def exercise_from(row: Row) -> ExerciseRow:
    """One row of the repertoire table. The row must have no fault; a broken one raises ValueError or KeyError."""
    same: dict[str, Any] = {name: row[name] for name in _WORDS}
    same |= {name: int(row[name]) for name in _NUMBERS}
    same |= {name: _count(row[name]) for name in _COUNTS}
    return ExerciseRow(
        **same,
        apparatus=ApparatusKind(row["apparatus"]),
        spring_effect=SpringEffect(row["spring_effect"]),
        tempo_seconds_per_rep=float(row["tempo_seconds_per_rep"]),
        demands=frozenset(split(row["demands"])),
        removable=frozenset(split(row["demands_removable"])),
        stretch_joint=split(row["stretch_joint"]),
        prerequisites=tuple(tuple(group.split("|")) for group in split(row["prerequisite_ids"])),
        prerequisite_words=row["prerequisites"],
        purpose=split(row["purpose"]),
        setup_seconds=float(row["setup_seconds"]),
        setup=_setup(row["equipment_setup"]),
        regression_adds=frozenset(split(row["regression_adds"])),
    )


_WORDS = (
    *("id", "series", "exercise", "part", "reps_basis", "pattern", "start_position", "usual_regression", "family"),
    *("rep_pool", "rep_pool_role", "origin", "rtl1945_reps", "rtl1945_source", "note"),
)
_NUMBERS = (
    *("order_in_apparatus", "position_in_series", "reps_low", "reps_high"),
    *("side_factor", "level", "supervision"),
)
_COUNTS = ("springs_usual", "springs_min", "springs_max", "rep_pool_total", "rep_pool_min", "rtl1945_count")


def step_from(row: Row) -> LadderStep:
    """One row of the ladders. The row must have no fault."""
    return LadderStep(
        ladder=row["ladder"],
        code=row["code"],
        kind=StepKind(row["kind"]),
        exercise_ids=split(row["repertoire_ids"]),
        when_seen=row["when_seen"],
        change=row["change"],
        removes=frozenset(split(row["removes"])),
        adds=frozenset(split(row["adds"])),
        substitutes=row["substitutes_row"],
    )


def _ladders(steps: Sequence[Row], gates: Sequence[Row]) -> dict[str, Ladder]:
    by_name: dict[str, list[LadderStep]] = {gate["ladder"]: [] for gate in gates}
    for row in steps:
        by_name[row["ladder"]].append(step_from(row))
    return {
        gate["ladder"]: Ladder(gate["ladder"], tuple(by_name[gate["ladder"]]), gate["repeat_while"], gate["advance_by"])
        for gate in gates
    }


def from_tables(tables: Tables) -> Repertoire:
    """Exercises in table order and ladders with their gates, from tables that have no fault."""
    return Repertoire(
        exercises={row["id"]: exercise_from(row) for row in tables["repertoire"]},
        ladders=_ladders(tables["ladders"], tables["ladder_gates"]),
    )


def faults(tables: Tables) -> list[Fault]:
    """Every fault of the tables this app starts from, in order of table and line; empty means they may be loaded.

    Reads repertoire, ladders, ladder_gates, pool_rules, springs_default, spring_translation, session_time,
    exposure_ceilings, supervision, segment_ratios and leg_length_regression, and looks things up in demands and
    sources. Wrong column counts are for whoever read the files.
    """
    found = (
        *repertoire_faults(tables),
        *ladder_faults(tables),
        *gate_faults(tables),
        *pool_faults(tables),
        *figure_faults(tables),
    )
    return sorted(found)
