"""One plan for six people and thirty lines, from the reference and invented; small ones beside a general solver."""

import random
from collections.abc import Mapping
from functools import partial
from statistics import median

from bench import house
from bench.measure import AT_LEAST, Found, no_collector, percentile, timed
from clients.rules import Level
from programming.rules import fitting
from programming.rules.groups import Option, Person, offers, options_of, shared_plan
from programming.rules.lines import PlannedLine
from programming.rules.repertoire import ExerciseRow, from_tables
from programming.rules.springs import SpringSet
from programming.rules.timing import Times, times_from
from studio.rules import ApparatusKind
from tests.programming.group_solver import Lines, by_solver
from tests.reference import table, tables

PEOPLE, LINES = 6, 30
GROUPS, SMALL = 12, 12
GOAL_SECONDS, GOAL_RATIO = 1.0, 5.0
KINDS = ("box", "pole")


def run() -> list[Found]:
    return [*_of_the_reference(), *_invented(), *_beside_the_solver()]


def _of_the_reference() -> list[Found]:
    """People with none to six demands limited, who own most of what they know, on thirty rows of the reformer."""
    rows, times, chance = from_tables(tables()).exercises, times_from(table("session_time")), house.dice("groups")
    here = [name for name, row in rows.items() if row.apparatus is ApparatusKind.REFORMER]
    fits, plans = [], []
    with no_collector():
        for _ in range(GROUPS):
            planned = [PlannedLine(str(at), name) for at, name in enumerate(chance.sample(here, LINES))]
            people = [_person(rows, times, chance) for _ in range(PEOPLE)]
            found: list[Lines] = []
            fits.append(timed(lambda: found.append(options_of(offers(planned, people, rows, shared={"box"})))))  # noqa: B023
            plans.append(timed(partial(shared_plan, found[0], {"box": 2})))
    worst = max(first + second for first, second in zip(fits, plans, strict=True))
    what = f"group plan, {PEOPLE} people x {LINES} lines of the reference"
    return [
        Found(f"{what}: solving, p50", 1000 * median(plans), "ms"),
        Found(f"{what}: solving, worst", max(plans), "s", GOAL_SECONDS),
        Found(f"{what}: fits of all and solving, worst", worst, "s"),
    ]


def _person(rows: Mapping[str, ExerciseRow], times: Times, chance: random.Random) -> Person:
    demands = sorted({demand for row in rows.values() for demand in row.demands})
    some = chance.sample(demands, chance.randint(0, 6))
    limits = {one: fitting.LimitFact(chance.choice(list(Level)), ("invented",), "smaller") for one in some}
    owned = frozenset(name for name in rows if chance.random() < 0.9)
    fit = partial(
        _fit, limits=limits, repertoire=rows, times=times, owned=owned, inventory=SpringSet(2, 2, 1), minutes=600,
        at_hand=frozenset(ApparatusKind),
    )  # fmt: skip
    return Person(fit, ApparatusKind.REFORMER)


def _fit(lines: list[PlannedLine], **given: object) -> fitting.FittedProgram:
    limits, repertoire = given.pop("limits"), given.pop("repertoire")
    return fitting.fit(lines, limits, repertoire, **given)  # type: ignore[arg-type]


def _invented() -> list[Found]:
    """Hard ones: every second row wants an eye or hands, everybody has other options, little is shared."""
    took = []
    with no_collector():
        for seed in range(GROUPS):
            lines, stock = _group(random.Random(seed), PEOPLE, LINES, forms=5)
            took.append(timed(partial(shared_plan, lines, stock)))
    return [Found(f"group plan, {PEOPLE} x {LINES}, hard and invented: worst", max(took), "s", GOAL_SECONDS)]


def _beside_the_solver() -> list[Found]:
    """How many times as fast as a general solver with the making of its model; three people, three lines."""
    ours, theirs = [], []
    with no_collector():
        for seed in range(SMALL):
            lines, stock = _group(random.Random(1_000 + seed), 3, 3, forms=3)
            ours.append(timed(partial(shared_plan, lines, stock)))
            theirs.append(timed(partial(by_solver, lines, stock)))
    ratio = median(their / our for their, our in zip(theirs, ours, strict=True))
    return [
        Found("group plan, 3 x 3: general solver ÷ ours", ratio, "x", GOAL_RATIO, AT_LEAST),
        Found("group plan, 3 x 3: ours, p95", 1000 * percentile(ours, 95), "ms"),
    ]


def _group(chance: random.Random, people: int, lines: int, *, forms: int) -> tuple[Lines, dict[str, int]]:
    found = []
    for _ in range(lines):
        options = [_option(chance, name) for name in "abcdefgh"[:forms]]
        found.append([tuple(chance.sample(options, chance.randint(1, min(3, forms)))) for _ in range(people)])
    return found, dict.fromkeys(KINDS, 2)


def _option(chance: random.Random, form: str) -> Option:
    near = chance.choice((0, 0, 1, 2, 3))
    items = frozenset(kind for kind in KINDS if chance.random() < 0.2)
    return Option(form, chance.choice((1, 1, 2, 2, 3)), items, int(near > 0), near, chance.randint(300, 2400))
