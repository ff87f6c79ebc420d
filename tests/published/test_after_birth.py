"""After a birth: what waits, and until when.

Sources: Goom T, Donnelly G, Brockwell E, Returning to running postnatal, 2019 (goom2019; read): no running before 3
months, expert opinion. Davenport MH et al., 2025 Canadian guideline after birth (davenport2025; summaries, second
hand): harder work once wounds have healed and bleeding does not increase. Nygaard IE et al. 2013 (nygaard2013, read):
no trial supports lifting limits. Abdominal Core Health Quality Collaborative (achqc2020, read): the first four weeks.
"""

import pytest

from clients.rules import ActiveCondition, Level, Outcome, form, screen
from tests.published.someone import BOOK, ON, ago, asked_to_confirm, avoided, found, levels, row_on, sources_of

TWELVE_WEEKS, SIX_WEEKS = 84, 42


@pytest.mark.parametrize(("days", "row"), [(0, "C23"), (41, "C23"), (42, "C23"), (83, "C23"), (84, "")])
def test_a_caesarean_is_recent_for_twelve_weeks(days, row):
    # goom2019, read: 12 weeks before impact. For the other limits a default of the house.
    assert row_on("C23", days) == row


def test_jumping_waits_after_a_caesarean():
    # goom2019, read
    assert "impact" in avoided("C23")
    assert sources_of("C23", "impact") == ("goom2019",)


def test_no_trial_stands_behind_the_limits_on_lifting_and_both_positions_are_kept():
    # nygaard2013 and achqc2020, read
    assert (BOOK.disagreements["D08"].sources_a, BOOK.disagreements["D08"].sources_b) == (
        ("achqc2020",),
        ("nygaard2013",),
    )
    assert "nygaard2013" in BOOK.conditions["C23"].note


@pytest.mark.parametrize(
    ("days", "row"), [(0, "C22"), (SIX_WEEKS - 1, "C22"), (SIX_WEEKS, "C22b"), (83, "C22b"), (84, "")]
)
def test_after_a_vaginal_birth_the_first_six_weeks_have_their_own_limits(days, row):
    # davenport2025, second hand, gives no week; six weeks are common practice, no source
    assert row_on("C22", days) == row


def test_in_the_first_six_weeks_jumping_and_straining_are_left_out():
    # common practice, no source, and inside the 12 weeks of goom2019
    assert {"impact", "straining"} <= avoided("C22")


def test_a_birth_told_early_keeps_jumping_out_until_a_person_confirms():
    # goom2019, read: 12 weeks. No date lifts the limit; the person who confirms knows the 12 weeks.
    assert asked_to_confirm("C22", SIX_WEEKS - 1) == []
    assert asked_to_confirm("C22", SIX_WEEKS) == [("C22", "C22b")]
    assert levels("C22", since=ago(TWELVE_WEEKS - 1))["impact"] is Level.AVOID


@pytest.mark.parametrize("days", [SIX_WEEKS, TWELVE_WEEKS - 1])
def test_a_birth_first_told_after_six_weeks_still_keeps_jumping_out_to_the_twelfth(days):
    # goom2019, read
    answers = {"H13": ["birth"], "H13.birth": ago(days).isoformat(), "H13.way": "vaginal"}
    told = form.facts(BOOK, answers, on=ON)
    assert {limit.demand: limit.level for limit in screen(told, BOOK, on=ON).limits}.get("impact") is Level.AVOID


@pytest.mark.parametrize(
    ("needs_clearance", "expected"),
    [(False, Outcome.CLEAR_LIMITED), (True, Outcome.REFER), (None, Outcome.INCOMPLETE)],
)
def test_tears_or_heavier_bleeding_wait_for_a_word_from_the_provider(needs_clearance, expected):
    # davenport2025, second hand
    told = ActiveCondition("C22", since=ago(20), needs_clearance=needs_clearance)
    assert found(conditions=(told,)).outcome is expected
