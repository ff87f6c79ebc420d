"""What is decided without a database: re-screening after a change of the rules, fitting a long program."""

import random
import time
from datetime import date, timedelta
from functools import partial

from bench import house
from bench.measure import AT_LEAST, Found, no_collector, spread, timed
from clients.rules import ActiveCondition, Level, Pregnancy, Rulebook, ScreeningFacts, Side, screen
from clients.rules.facts import Disease
from clients.rules.reference import Intensity
from programming.rules import fitting
from programming.rules.lines import PlannedLine
from programming.rules.repertoire import from_tables
from programming.rules.springs import SpringSet
from programming.rules.timing import times_from
from tests.reference import table, tables

ON = date(2026, 3, 2)
CLIENTS, SCREENED_GOAL = 5_000, 5_000
LINES, PROGRAMS = 60, 200
FIT_P50_GOAL, FIT_P95_GOAL = 10, 60


def run() -> list[Found]:
    return [*rescreen(), *fit()]


def rescreen() -> list[Found]:
    """Clients a second, with none to three conditions each, one in ten pregnant."""
    book, chance = Rulebook.from_tables(tables()), house.dice("clients")
    told = [_told(book, chance) for _ in range(CLIENTS)]
    with no_collector():
        start = time.perf_counter()
        for facts in told:
            screen(facts, book, on=ON)
        took = time.perf_counter() - start
    return [Found("re-screening in rules", CLIENTS / took, "clients/s", SCREENED_GOAL, AT_LEAST)]


def fit() -> list[Found]:
    """Programs of sixty different rows, three to six demands limited, on a machine with five springs."""
    rows, times, chance = from_tables(tables()).exercises, times_from(table("session_time")), house.dice("programs")
    names, demands = sorted(rows), sorted({demand for row in rows.values() for demand in row.demands})
    took = []
    with no_collector():
        for _ in range(PROGRAMS):
            planned = [PlannedLine(str(at), name) for at, name in enumerate(chance.sample(names, LINES))]
            some = chance.sample(demands, chance.randint(3, 6))
            limits = {one: fitting.LimitFact(chance.choice(list(Level)), ("invented",), "smaller") for one in some}
            deed = partial(fitting.fit, planned, limits, rows, times=times, inventory=SpringSet(2, 2, 1), minutes=90)
            took.append(timed(deed))
    return spread("fitting a program of 60 lines", took, goals={50: FIT_P50_GOAL, 95: FIT_P95_GOAL})


def _told(book: Rulebook, chance: random.Random) -> ScreeningFacts:
    conditions = chance.sample(sorted(book.conditions), chance.choice((0, 0, 1, 1, 2, 3)))
    return ScreeningFacts(
        written_on=ON - timedelta(days=chance.randrange(300)),
        regularly_active=chance.random() < 0.5,
        diseases=frozenset(chance.sample(list(Disease), chance.choice((0, 0, 0, 1)))),
        symptoms=frozenset(chance.sample(sorted(book.symptoms), chance.choice((0, 0, 0, 1)))),
        intensity=chance.choice(list(Intensity)),
        conditions=tuple(
            ActiveCondition(
                condition_id=name,
                side=chance.choice((None, *Side)),
                since=ON - timedelta(days=chance.randrange(500)),
                needs_clearance=False,
                is_held=False,
            )
            for name in conditions
        ),
        pregnancy=Pregnancy(ON + timedelta(days=chance.randrange(200))) if chance.random() < 0.1 else None,
    )
