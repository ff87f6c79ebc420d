"""Reasons not to exercise in pregnancy.

Sources: mottola2019, Table 2 (2019 Canadian guideline, read in full) for P01-P12 and P20-P28; acog_older (older US
lists, second hand) for P13-P19 and P29-P35. The house takes the union of both, and of two weeks the stricter.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from clients.rules import Outcome, Pregnancy, Rulebook, ScreeningFacts, screen
from clients.rules.reference import Intensity
from tests.reference import tables

BOOK = Rulebook.from_tables(tables())
ON = date(2026, 3, 2)
WELL = ScreeningFacts(
    written_on=ON,
    regularly_active=True,
    diseases=frozenset(),
    symptoms=frozenset(),
    intensity=Intensity.LIGHT_MODERATE,
)


def outcome(gate_id: str, *, gestation: int, on: date = ON) -> Outcome:
    expecting = Pregnancy(ON + timedelta(days=280 - gestation), frozenset({gate_id}))
    return screen(replace(WELL, pregnancy=expecting), BOOK, on=on).outcome


def ids(level: str, origin: str) -> set[str]:
    return {gate.id for gate in BOOK.pregnancy_gates.values() if (gate.level, gate.list_origin) == (level, origin)}


def test_both_lists_are_held_whole():
    # mottola2019 Table 2: twelve absolute and nine relative entries; acog_older, second hand: seven of each.
    assert len(ids("absolute", "canada")) == 12
    assert len(ids("relative", "canada")) == 9
    assert len(ids("absolute", "older_us")) == len(ids("relative", "older_us")) == 7


@pytest.mark.parametrize(
    "gate_id", sorted(gate.id for gate in BOOK.pregnancy_gates.values() if gate.outcome == "refer")
)
def test_each_entry_of_either_list_waits_for_the_provider(gate_id):
    # mottola2019 Table 2; acog_older, second hand
    assert outcome(gate_id, gestation=230) is Outcome.REFER


@pytest.mark.parametrize(
    ("gate_id", "first_day"),
    [
        ("P04", 28 * 7),  # mottola2019: placenta praevia after the 28th week
        ("P13", 26 * 7),  # acog_older, second hand: after 26 weeks
        ("P17", 14 * 7),  # acog_older, second hand: bleeding in the second or third trimester
        ("P26", 28 * 7),  # mottola2019: twin pregnancy after the 28th week
    ],
)
def test_an_entry_with_a_week_counts_from_its_first_day(gate_id, first_day):
    assert outcome(gate_id, gestation=first_day - 1) is Outcome.CLEAR
    assert outcome(gate_id, gestation=first_day) is Outcome.REFER


def test_an_entry_with_a_week_counts_while_no_due_date_is_known():
    told = replace(WELL, pregnancy=Pregnancy(None, frozenset({"P26"})))
    assert screen(told, BOOK, on=ON).outcome is Outcome.REFER


@pytest.mark.parametrize("gate_id", sorted(ids("stop_sign", "both")))
def test_a_stop_sign_holds_back_todays_lesson_and_waits_for_the_provider_afterwards(gate_id):
    # acog_older, second hand; csep_pregnancy_guide
    assert outcome(gate_id, gestation=150) is Outcome.POSTPONE
    assert outcome(gate_id, gestation=150, on=ON + timedelta(days=1)) is Outcome.REFER


def test_a_pregnancy_without_any_entry_is_bookable():
    # mottola2019: those without a contraindication should be active
    expecting = Pregnancy(ON + timedelta(days=100))
    assert screen(replace(WELL, pregnancy=expecting), BOOK, on=ON).outcome is Outcome.CLEAR
