"""What the ten rules cost: the whole repertoire as one program, its growth with lines, and the tables themselves."""

import random
from collections.abc import Callable, Sequence
from functools import partial
from statistics import median

from bench import house
from bench.measure import Found, no_collector, spread, timed
from clients.rules import Level
from programming.rules import validation
from programming.rules.absence import Occasion
from programming.rules.lines import Line, PlannedLine, resolved
from programming.rules.repertoire import Repertoire, faults, from_tables
from programming.rules.springs import SpringSet
from programming.rules.timing import Slot, times_from
from studio.rules import ApparatusKind
from tests.reference import table, tables

ROUNDS, BODIES = 9, 200
WHOLE_GOAL, GROWTH_GOAL = 10, 1.3
SHORT, LONG = 30, 120

REFERENCE = from_tables(tables())
ROWS = REFERENCE.exercises
TIMES = times_from(table("session_time"))
CEILINGS = validation.ceilings_from(table("exposure_ceilings"))
PEOPLE = validation.People(
    is_screened=True,
    ceilings=dict.fromkeys(ApparatusKind, 3),
    teaches=dict.fromkeys(ApparatusKind, 5),
    occasion=Occasion(20, days_since_first=200, days_away=7),
)


def run() -> list[Found]:
    chance = house.dice("programs")
    whole = resolved([PlannedLine(name, name) for name in ROWS], ROWS)
    with no_collector():
        bodies = [timed(_judging(whole, chance)) for _ in range(BODIES)]
        growth = _growth(chance)
        checked = min(timed(partial(_check, REFERENCE)) for _ in range(ROUNDS))
    return [
        Found(f"all ten rules over {LONG} lines ÷ over {SHORT}, a line", growth, "×", GROWTH_GOAL),
        *spread(f"all ten rules over the {len(ROWS)} rows as one program", bodies, goals={95: WHOLE_GOAL}),
        Found("faults and circles of the whole reference", 1000 * checked, "ms"),
    ]


def _judging(lines: Sequence[Line], chance: random.Random) -> Callable[[], object]:
    """All rules for one invented body: three to six limits, half of the rows owned."""
    demands = sorted({demand for line in lines for demand in line.demands})
    return partial(
        validation.personal,
        lines,
        ROWS,
        TIMES,
        slot=Slot(3300),
        levels={one: chance.choice(list(Level)) for one in chance.sample(demands, min(len(demands), 6))},
        owned=set(chance.sample(sorted(ROWS), len(ROWS) // 2)),
        met=set(ROWS),
        ceilings=CEILINGS,
        people=PEOPLE,
        inventory=SpringSet(2, 2, 1),
    )


def _growth(chance: random.Random) -> float:
    """Cost of a line in a long program ÷ in a short one, turn about."""
    ratios = []
    for _ in range(ROUNDS * 5):
        names = chance.sample(sorted(ROWS), LONG)
        long = resolved([PlannedLine(name, name) for name in names], ROWS)
        short_cost, long_cost = (timed(_judging(lines, chance)) for lines in (long[:SHORT], long))
        ratios.append((long_cost / LONG) / (short_cost / SHORT))
    return median(ratios)


def _check(reference: Repertoire) -> None:
    faults(tables())
    validation.cycle(reference.exercises)
