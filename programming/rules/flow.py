"""How a program flows, in sums (rules 2 to 5): changes of set-up, springs, boxes, rounding and its answer."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from programming.rules.lines import Line, whole_exercises
from programming.rules.timing import Pace, SetUpChanges, Times, box_fetches, changes, line_seconds
from studio.rules import ApparatusKind


@dataclass(frozen=True)
class Flow:
    """Sums over a program. `spring_rises` counts where a reformer goes up again between two exercises (rule 3).

    `flexion_run` is the longest run of rounding rows that are not extension too, `flexion_seconds` how long the longest
    one lasts by the time model (rule 5).
    """

    changes: SetUpChanges
    spring_rises: int
    box_fetches: int
    flexion: int
    extension: int
    flexion_run: int
    flexion_seconds: float


def flow(lines: Sequence[Line], times: Times, *, pace: Pace = Pace.WORKING) -> Flow:
    """The sums of these lines in their order."""
    runs = rounding_runs(lines)
    return Flow(
        changes=changes(lines),
        spring_rises=_rises(lines),
        box_fetches=box_fetches(lines),
        flexion=sum(line.is_flexion for line in lines),
        extension=sum(line.is_extension for line in lines),
        flexion_run=max((len(run) for run in runs), default=0),
        flexion_seconds=max((sum(line_seconds(line, times, pace=pace) for line in run) for run in runs), default=0.0),
    )


def rounding_runs(lines: Sequence[Line]) -> list[list[Line]]:
    """Neighbouring rows that are flexion and not extension, each unbroken run of them."""
    grouped = itertools.groupby(lines, key=lambda line: line.is_flexion and not line.is_extension)
    return [list(run) for rounds, run in grouped if rounds]


def _rises(lines: Sequence[Line]) -> int:
    exercises = [run for run in whole_exercises(lines) if run[0].row.apparatus is ApparatusKind.REFORMER]
    return sum((after[0].springs or 0) > (before[-1].springs or 0) for before, after in itertools.pairwise(exercises))
