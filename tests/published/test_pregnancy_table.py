"""Reasons not to exercise in pregnancy.

Sources: mottola2019, Table 2 (2019 Canadian guideline, read in full) for P01-P12 and P20-P28; acog_older (older US
lists, second hand) for P13-P19 and P29-P35. The house takes the union of both, and of two weeks the stricter. Bounds
of the trimesters: ACOG Committee Opinion 804 (acog_804), from memory.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from clients.rules import Level, Outcome, Pregnancy, screen
from clients.rules.gates import pregnancy_condition
from tests.published.someone import BOOK, ON, WELL, found, levels

WEEK = 7
# The words of Table 2 of mottola2019 (read), in our own; then the older US lists (acog_older, second hand).
ENTRIES = {
    "P01": "waters",
    "P02": "too early",
    "P03": "Bleeding that has not been explained",
    "P04": "placenta lies low",
    "P05": "Pre-eclampsia",
    "P06": "neck of the womb is weak",
    "P07": "growing too slowly",
    "P08": "Three or more",
    "P09": "Type 1 diabetes",
    "P10": "High blood pressure that is not controlled",
    "P11": "Thyroid",
    "P12": "heart, lung or general",
    "P13": "placenta lies low",
    "P14": "Heart disease",
    "P15": "Lung disease",
    "P16": "stitch",
    "P17": "second or third trimester",
    "P18": "Severe anaemia",
    "P19": "More than one baby",
    "P20": "pregnancy loss",
    "P21": "born too early",
    "P22": "High blood pressure that began in pregnancy",
    "P23": "Anaemia with symptoms",
    "P24": "nutrition",
    "P25": "Eating disorder",
    "P26": "Twins",
    "P27": "Mild or moderate heart or lung",
    "P28": "Another condition",
    "P29": "rhythm",
    "P30": "bronchitis",
    "P31": "body weight",
    "P32": "Seizures or thyroid",
    "P33": "smoking",
    "P34": "Bone or joint",
    "P35": "inactive",
}


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


@pytest.mark.parametrize(("gate_id", "word"), ENTRIES.items())
def test_each_entry_of_either_list_is_asked_in_words(gate_id, word):
    # mottola2019 Table 2, read; acog_older, second hand
    assert word in BOOK.pregnancy_gates[gate_id].statement


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
    assert outcome(gate_id, gestation=first_day + 1) is Outcome.REFER


def test_every_other_entry_counts_from_the_first_day():
    # mottola2019 Table 2, read, and acog_older, second hand, give those four a week and no other
    with_a_week = {gate.id for gate in BOOK.pregnancy_gates.values() if gate.from_gestation_day is not None}
    assert with_a_week == {"P04", "P13", "P17", "P26"}
    for gate_id in sorted(set(ENTRIES) - with_a_week):
        assert outcome(gate_id, gestation=1) is Outcome.REFER


@pytest.mark.parametrize(
    ("days", "stage"),
    [
        (0, "C19"),
        (14 * WEEK - 1, "C19"),  # 13 weeks 6 days (acog_804, from memory)
        (14 * WEEK, "C20"),  # 14 weeks 0 days
        (14 * WEEK + 1, "C20"),
        (28 * WEEK - 1, "C20"),  # 27 weeks 6 days
        (28 * WEEK, "C21"),  # 28 weeks 0 days
        (28 * WEEK + 1, "C21"),
        (40 * WEEK, "C21"),  # 280 days on the due date
        (42 * WEEK, "C21"),
    ],
)
def test_the_trimesters_change_on_their_day(days, stage):
    expecting = Pregnancy(ON + timedelta(days=280 - days))
    assert expecting.gestation(ON) == days
    assert pregnancy_condition(expecting, BOOK, on=ON).id == stage
    assert {one for limit in found(pregnancy=expecting).limits for one in limit.because} == {stage}


def test_the_next_trimester_begins_by_itself_and_is_looked_at_on_that_day():
    # acog_804, from memory. That a limit begins by itself, and never ends so, is a rule of the house.
    expecting = Pregnancy(ON + timedelta(days=280 - (28 * WEEK - 3)))
    assert found(pregnancy=expecting).look_again_on == ON + timedelta(days=3)


def test_lying_flat_is_changed_when_it_troubles_then_adapted_then_avoided():
    # mottola2019, read: change the position when light-headed, sick or unwell lying flat. csep_pregnancy_guide and
    # acog_804, second hand: less of it after the first trimester. Which week is disputed; the stricter holds.
    assert [levels(stage)["supine_flat"] for stage in ("C19", "C20", "C21")] == [
        Level.ADAPT,
        Level.ADAPT,
        Level.AVOID,
    ]


def test_lying_on_the_belly_and_being_thrown_off_balance_are_limited_from_the_second_trimester_on():
    # csep_pregnancy_guide, second hand: no pressure on the belly, no high risk of falling
    assert levels("C20")["prone"] is levels("C21")["prone"] is Level.AVOID
    assert levels("C20")["balance"] is levels("C21")["balance"] is Level.ADAPT


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
