"""Fitting a long plan exactly: how fast, how it grows, and how much faster than a general constraint solver.

Sixty lines of the reference repertoire in its order, a client who owns nine rows in ten and has one condition of the
reference or none, one of four machines, and ten minutes more than the lines take; then the harder clients and slots.
"""

import random
from collections.abc import Callable
from functools import partial
from statistics import median
from typing import Any, TypeVar

from bench import house
from bench.measure import AT_LEAST, EXACTLY, Found, no_collector, spread, timed
from clients.rules.outcomes import LEVELS, Level
from programming.rules.fitting import LimitFact, fit
from programming.rules.lines import PlannedLine, resolved
from programming.rules.repertoire import ExerciseRow, LadderStep, from_tables
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace, Times, program_seconds, times_from
from studio.rules import ApparatusKind
from tests.reference import table, tables

Answer = TypeVar("Answer")

LINES, PROGRAMS, SOME = 60, 200, 40
# The solver may take so many seconds for each group of goals; what it has not solved by then counts as that.
AGAINST_SOLVER, SOLVER_SECONDS = 10, 10
P50_GOAL, P95_GOAL, RATIO_GOAL = 10, 60, 5
MACHINES = tuple(SpringSet.of(letters) for letters in ("HHMML", "HMMML", "HHMMLL", "MMMML"))


class Studio:
    """What every plan of the benchmark is drawn from."""

    def __init__(self) -> None:
        known = from_tables(tables())
        self.rows: dict[str, ExerciseRow] = dict(known.exercises)
        self.times: Times = times_from(table("session_time"))
        self.ladders: dict[str, list[LadderStep]] = {}
        for ladder in known.ladders.values():
            for step in ladder.steps:
                for name in step.exercise_ids:
                    self.ladders.setdefault(name, []).append(step)
        self.limits = table("limits")
        self.conditions = sorted({row["condition_id"] for row in self.limits})

    def case(
        self, chance: random.Random, lines: int, conditions: int, *, owned: float = 0.9, spare: float = 10
    ) -> dict[str, Any]:
        """The arguments of one fit in a slot with `spare` minutes more than the lines take as planned."""
        order = list(self.rows)
        names = sorted(chance.sample(order, lines), key=order.index)
        return {
            "lines": [PlannedLine(str(at), name) for at, name in enumerate(names)],
            "limits": self._limits(chance.sample(self.conditions, conditions)),
            "repertoire": self.rows,
            "times": self.times,
            "owned": frozenset(name for name in order if chance.random() < owned),
            "inventory": chance.choice(MACHINES),
            "minutes": self._minutes(names) + spare,
            "at_hand": frozenset(ApparatusKind),
            "ladders": self.ladders,
        }

    def _minutes(self, names: list[str]) -> float:
        lines = resolved([PlannedLine(name, name) for name in names], self.rows)
        return program_seconds(lines, self.times, pace=Pace.WORKING) / 60

    def _limits(self, conditions: list[str]) -> dict[str, LimitFact]:
        found: dict[str, LimitFact] = {}
        for row in self.limits:
            known, level = found.get(row["demand"]), Level(row["level"])
            stricter = known is None or LEVELS.index(level) < LEVELS.index(known.level)
            if row["condition_id"] in conditions and stricter:
                found[row["demand"]] = LimitFact(level, (row["condition_id"],), row["how"])
        return found


def run() -> list[Found]:
    studio = Studio()
    goals: dict[float, float] = {50: P50_GOAL, 95: P95_GOAL}
    took, proven = _fitted(studio, "fit", PROGRAMS)
    two, two_proven = _fitted(studio, "two", SOME, conditions=(2,))
    short, short_proven = _fitted(studio, "short", SOME, spare=-6)
    return [
        *spread(f"fitting a program of {LINES} lines exactly", took, goals=goals),
        Found("of these proven best", proven, "%"),
        Found("the same with two conditions, p50", 1000 * median(two), "ms"),
        Found("of these proven best", two_proven, "%"),
        Found("the same in a slot six minutes too short, p50", 1000 * median(short), "ms"),
        Found("of these proven best", short_proven, "%"),
        *_against_solver(studio),
        *_growth(studio),
    ]


def _fitted(
    studio: Studio, name: str, many: int, *, conditions: tuple[int, ...] = (0, 1), spare: float = 10
) -> tuple[list[float], float]:
    """Seconds each fit took, and the percentage that was proven."""
    chance, took, proven = house.dice(name), [], 0
    with no_collector():
        for _ in range(many):
            case = studio.case(chance, LINES, chance.choice(conditions), spare=spare)
            seconds, fitted = _clocked(partial(fit, **case))
            took.append(seconds)
            proven += fitted.is_proven
    return took, 100 * proven / many


def _against_solver(studio: Studio) -> list[Found]:
    """The same cases by the fitter and by CP-SAT with its model built, turn about."""
    from tests.programming.solver import Case, optimum

    chance, ratios, compared, others = house.dice("solver"), [], 0, 0
    with no_collector():
        for _ in range(AGAINST_SOLVER):
            case = studio.case(chance, LINES, chance.choice((0, 1)))
            quick, ours = _clocked(partial(fit, **case))
            slow, theirs = _clocked(partial(optimum, Case(**case), SOLVER_SECONDS))
            ratios.append(slow / quick)
            if theirs is not None and ours.is_proven:
                compared += 1
                others += tuple(ours.cost) != theirs
    return [
        Found(f"CP-SAT with its model built ÷ the fitter, {LINES} lines", median(ratios), "×", RATIO_GOAL, AT_LEAST),
        Found("cases that both proved in time", compared, f"of {AGAINST_SOLVER}"),
        Found("of these, costs that differ from the solver's", others, "", 0, EXACTLY),
    ]


def _clocked(deed: Callable[[], Answer]) -> tuple[float, Answer]:
    """Seconds a deed takes, and what it answers."""
    kept: list[Answer] = []
    return timed(lambda: kept.append(deed())), kept[0]


def _growth(studio: Studio) -> list[Found]:
    """For information: medians by lines, by conditions, and by how much of the repertoire is owned."""
    by_lines = [
        _median(studio, f"{lines} lines, one condition", lines=lines, conditions=1) for lines in (10, 20, 30, 45, 60)
    ]
    by_limits = [_median(studio, f"30 lines, {many} conditions", lines=30, conditions=many) for many in (0, 1, 2, 3)]
    by_candidates = [
        _median(studio, f"30 lines, {owned:.0%} of the repertoire owned", lines=30, conditions=1, owned=owned)
        for owned in (1.0, 0.8, 0.5)
    ]
    return [*by_lines, *by_limits, *by_candidates]


def _median(studio: Studio, what: str, *, lines: int, conditions: int, owned: float = 0.9) -> Found:
    chance = house.dice(what)
    cases = [studio.case(chance, lines, conditions, owned=owned) for _ in range(25)]
    with no_collector():
        took = [timed(partial(fit, **case)) for case in cases]
    return Found(f"fitting: {what}, p50", 1000 * median(took), "ms")
