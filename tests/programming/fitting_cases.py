"""Random cases for the fitter: small plans in which stand-ins, pools, prerequisites, springs and time all bind."""

import random

from clients.rules.outcomes import Level
from programming.rules.fitting import LimitFact
from programming.rules.lines import PlannedLine
from programming.rules.repertoire import from_tables
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace, line_seconds
from studio.rules import ApparatusKind
from tests.programming.reference import REPERTOIRE, TIMES, lines
from tests.programming.solver import Case
from tests.reference import table, tables

DEMANDS = [row["code"] for row in table("demands")]
POOLED = [
    ["R-SM3", "R-SM4"],
    ["R-TEN1", "R-TEN2"],
    ["R-LS4", "R-LS5"],
    ["R-SB4", "R-SB5"],
    ["R-KN1", "R-KN2", "R-KN3"],
]
LADDERS = {
    name: [
        step for ladder in from_tables(tables()).ladders.values() for step in ladder.steps if name in step.exercise_ids
    ]
    for name in REPERTOIRE
}


def small(seed: int, most: int = 6) -> Case:
    """Three to `most` lines from a repertoire of ten to thirty rows, with everything else drawn by lot."""
    chance = random.Random(seed)
    ids = chance.sample(sorted(REPERTOIRE), chance.randint(10, 30))
    if chance.random() < 0.4:
        ids = [*chance.choice(POOLED), *ids]
    count = chance.randint(3, most)
    chosen = list(dict.fromkeys(ids))[:count]
    if chance.random() < 0.6:
        chosen.sort(key=list(REPERTOIRE).index)
    if chance.random() < 0.1:
        chosen.append(chosen[0])
    repertoire = {name: REPERTOIRE[name] for name in dict.fromkeys([*chosen, *ids])}
    needed = sum(line_seconds(line, TIMES, pace=Pace.WORKING) for line in lines(*chosen)) + TIMES.arrival + TIMES.close
    return Case(
        lines=[_planned(chance, at, name) for at, name in enumerate(chosen)],
        limits={
            demand: LimitFact(chance.choice((Level.AVOID, Level.AVOID, Level.ADAPT, Level.WATCH)))
            for demand in chance.sample(DEMANDS, chance.choice((0, 1, 2, 3, 5, 8)))
        },
        repertoire=repertoire,
        times=TIMES,
        owned=frozenset(name for name in REPERTOIRE if chance.random() < chance.choice((0.3, 0.7, 0.95))),
        known=None if chance.random() < 0.7 else frozenset(chance.sample(sorted(REPERTOIRE), 90)),
        inventory=chance.choice((None, SpringSet(1, 2, 1), SpringSet(2, 2, 1), SpringSet(0, 2, 0), SpringSet())),
        minutes=needed / 60 * chance.choice((0.4, 0.6, 0.8, 0.95, 1.2, 2)),
        at_hand=frozenset(chance.sample(list(ApparatusKind), 3)) if chance.random() < 0.2 else frozenset(ApparatusKind),
        ladders=LADDERS if chance.random() < 0.6 else {},
        waived=frozenset(chance.sample(sorted(REPERTOIRE), 5)),
        ceilings={kind: chance.randint(1, 4) for kind in ApparatusKind} if chance.random() < 0.15 else {},
    )


def _planned(chance: random.Random, at: int, name: str) -> PlannedLine:
    row = REPERTOIRE[name]
    return PlannedLine(
        str(at),
        name,
        reps=chance.randint(row.reps_low, row.reps_high) if chance.random() < 0.15 else None,
        springs=row.springs_min if chance.random() < 0.1 else None,
        adapted=chance.random() < 0.1,
    )
