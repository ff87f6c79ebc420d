"""Lines of a template or program: what is planned, and the same joined with its repertoire row."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from programming.rules.repertoire import EXTENSION, FLEXION, ExerciseRow


@dataclass(frozen=True)
class PlannedLine:
    """What one line asks for; empty means as the repertoire row says.

    `reps` counts as the row counts (per side when the row is per side); `springs` is a reference count; `adapted`
    means in the row's usual regression; `setup` overrides single keys of the row's set-up; `extra_one_side` adds
    repetitions on one side, for which `reason` is the written reason.
    """

    planned_id: str
    exercise_id: str
    reps: int | None = None
    springs: int | None = None
    adapted: bool = False
    setup: Mapping[str, str] = field(default_factory=dict, hash=False)
    extra_one_side: int = 0
    reason: str = ""


@dataclass(frozen=True)
class Line:
    """A planned line with its row."""

    plan: PlannedLine
    row: ExerciseRow

    @property
    def planned_id(self) -> str:
        return self.plan.planned_id

    @property
    def reps(self) -> float:
        """Planned repetitions, or the middle of the row's range."""
        return self.row.mid_reps if self.plan.reps is None else self.plan.reps

    @property
    def springs(self) -> int | None:
        """Reference count; None where the row has no springs."""
        return self.row.springs_usual if self.plan.springs is None else self.plan.springs

    @property
    def demands(self) -> frozenset[str]:
        """Demands as performed."""
        return self.row.demands_as(regressed=self.plan.adapted)

    @property
    def setup(self) -> dict[str, str]:
        return {**self.row.setup, **self.plan.setup}

    @property
    def movement_seconds(self) -> float:
        """Repetitions x side factor x tempo, without pace, set-up or coaching: the exposure of rule 12."""
        both_sides = self.reps * self.row.side_factor + self.plan.extra_one_side
        return both_sides * self.row.tempo_seconds_per_rep

    @property
    def is_flexion(self) -> bool:
        return bool(self.demands & FLEXION)

    @property
    def is_extension(self) -> bool:
        return bool(self.demands & EXTENSION)

    def same_exercise(self, other: "Line") -> bool:
        """Parts of one exercise: footwork on toes and footwork on heels."""
        mine, theirs = self.row, other.row
        return (mine.apparatus, mine.series, mine.exercise) == (theirs.apparatus, theirs.series, theirs.exercise)


def resolved(lines: Sequence[PlannedLine], repertoire: Mapping[str, ExerciseRow]) -> tuple[Line, ...]:
    """The lines with their rows, in order. Raises KeyError for an exercise the repertoire does not hold."""
    return tuple(Line(line, repertoire[line.exercise_id]) for line in lines)


def whole_exercises(lines: Sequence[Line]) -> list[list[Line]]:
    """Neighbouring lines that are parts of one exercise, kept together."""
    runs: list[list[Line]] = []
    for line in lines:
        if runs and runs[-1][-1].same_exercise(line):
            runs[-1].append(line)
        else:
            runs.append([line])
    return runs


def reps_words(row: ExerciseRow, reps: int | None) -> str:
    """Repetitions as a card says them: `8–10`, or `3 each side` when the plan names a number."""
    count = (
        str(reps)
        if reps is not None
        else (str(row.reps_low) if row.reps_low == row.reps_high else f"{row.reps_low}–{row.reps_high}")
    )
    basis = {"per_side": " each side", "per_direction": " each way", "per_side_per_direction": " each side, each way"}
    return count + basis.get(row.reps_basis, "")
