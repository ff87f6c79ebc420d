"""What is decided without a database: re-screening after a change of the rules."""

import random
from datetime import date, timedelta
from functools import partial
from statistics import median

from bench import house
from bench.measure import AT_LEAST, Found, no_collector, timed
from clients.rules import ActiveCondition, Pregnancy, Pressure, Readings, Rulebook, ScreeningFacts, Side, screen
from clients.rules.facts import Disease
from clients.rules.reference import Intensity
from tests.reference import tables

ON = date(2026, 3, 2)
CLIENTS, SCREENED_GOAL = 5_000, 5_000
# Rows added to each table that grows with what is known, and what they may cost: the rate without ÷ the rate with.
ADDED_RULES, ADDED_GOAL, ROUNDS = 600, 1.2, 7


def run() -> list[Found]:
    return rescreen()


def rescreen() -> list[Found]:
    """Clients a second, with none to three conditions each, one in ten pregnant, every second one measured.

    Then the same clients under a book with many more rules that none of them meets, turn about.
    """
    plain, chance = Rulebook.from_tables(tables()), house.dice("clients")
    told = [_told(plain, chance) for _ in range(CLIENTS)]
    grown = Rulebook.from_tables(_with_more_rules(tables(), house.dice("rules")))
    took: dict[Rulebook, list[float]] = {plain: [], grown: []}
    with no_collector():
        for _ in range(ROUNDS):
            for book, seconds in took.items():
                seconds.append(timed(partial(_screen_all, told, book)))
    ratio = median(after / before for before, after in zip(took[plain], took[grown], strict=True))
    return [
        Found("re-screening in rules", CLIENTS / min(took[plain]), "clients/s", SCREENED_GOAL, AT_LEAST),
        Found(f"the same, {ADDED_RULES} more conditions, flags and gates", ratio, "x", ADDED_GOAL),
    ]


def _screen_all(told: list[ScreeningFacts], book: Rulebook) -> None:
    for facts in told:
        screen(facts, book, on=ON)


def _with_more_rules(known: dict[str, list[dict[str, str]]], chance: random.Random) -> dict[str, list[dict[str, str]]]:
    """The same tables with rows added that nobody tells of; each new condition has three limits."""
    more = {name: list(rows) for name, rows in known.items()}
    demands = [row["code"] for row in known["demands"]]
    for at in range(ADDED_RULES):
        condition = dict(chance.choice(known["conditions"]), id=f"X{at}", next_condition_id="")
        # A stage of a pregnancy would be met by each pregnant client.
        condition |= {"window_days_from": "", "window_days_to": "", "window_basis": "none"}
        more["conditions"].append(condition)
        chosen = chance.sample(demands, 3)
        limit = dict(known["limits"][0], condition_id=condition["id"])
        more["limits"] += [limit | {"demand": demand} for demand in chosen]
        more["red_flags"].append(dict(chance.choice(known["red_flags"]), id=f"X{at}"))
        more["pregnancy_gates"].append(dict(chance.choice(known["pregnancy_gates"]), id=f"X{at}"))
    return more


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
        readings=_readings(chance) if chance.random() < 0.5 else Readings(),
        pregnancy=Pregnancy(ON + timedelta(days=chance.randrange(200))) if chance.random() < 0.1 else None,
    )


def _readings(chance: random.Random) -> Readings:
    pairs = tuple(Pressure(chance.randint(100, 170), chance.randint(60, 95)) for _ in range(2))
    return Readings(pairs, heart_rate=chance.randint(50, 100), is_treated=chance.random() < 0.5)
