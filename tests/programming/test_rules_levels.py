"""Up a level: programs, section 10 (common practice, no source)."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programming.rules import levels
from programming.rules.absence import Recheck, Return
from programming.rules.levels import Signing, check, coming_back, is_open, is_senior, signing_refusals
from programming.rules.repertoire import from_tables
from studio.rules import ApparatusKind
from tests import reference

ROWS = from_tables(reference.tables()).exercises
KIND = ApparatusKind.REFORMER
LEVEL_TWO = [row.id for row in ROWS.values() if row.apparatus is KIND and row.level == 2]
SIGN = Signing(wanted=3, flows=True, reason="", teaches=5)


def found(clean: int, *, score: int = 4, avoided=()):
    scores = dict.fromkeys(LEVEL_TWO, 3) | dict.fromkeys(LEVEL_TWO[:clean], score)
    return check(KIND, 2, ROWS.values(), scores, avoided=avoided)


def codes(asked, of) -> list[str]:
    return [reason.code for reason in signing_refusals(asked, of)]


def test_four_of_five_rows_of_the_level_below_are_asked_for():
    needed = -(-len(LEVEL_TWO) * 4 // 5)
    assert found(needed).is_met and found(needed).needed == needed
    assert not found(needed - 1).is_met


@given(st.integers(0, 64))
def test_what_is_needed_is_the_least_number_that_reaches_eighty_percent(rows):
    of = replace(found(0), open_rows=rows)
    assert of.needed >= levels.SHARE * rows > of.needed - 1


def test_rows_that_limits_block_are_not_counted_so_nobody_is_locked_out():
    """The deadlock rule carried over to levels."""
    whole, limited = found(0), found(0, avoided={"wrist_wb"})
    blocked = [key for key in LEVEL_TWO if not is_open(ROWS[key], {"wrist_wb"})]
    assert blocked and limited.open_rows == whole.open_rows - len(blocked)
    assert set(limited.missing).isdisjoint(blocked)


def test_a_row_whose_easier_form_is_free_stays_open():
    footwork = ROWS["R-FW1"]
    assert "knee_flex_deep" in footwork.removable
    assert is_open(footwork, {"knee_flex_deep"}) and not is_open(footwork, {"forefoot"})


def test_fives_are_told_apart_as_what_flows():
    assert found(6, score=5).flowing == 6 and found(6, score=4).flowing == 0


def test_a_level_is_signed_when_the_rows_are_clean_and_the_series_flows():
    met = found(len(LEVEL_TWO))
    assert codes(SIGN, met) == []
    assert codes(replace(SIGN, flows=False), met) == ["transitions"]
    assert codes(SIGN, found(0)) == ["not_yet"]
    assert codes(replace(SIGN, wanted=4), met) == ["not_yet"]


def test_a_reason_lets_a_level_be_signed_all_the_same_and_going_down_needs_none():
    assert codes(replace(SIGN, flows=False, reason="eight years elsewhere", wanted=4), found(0)) == []
    assert codes(replace(SIGN, flows=False, wanted=1), found(0)) == []


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"wanted": 0}, "level_range"),
        ({"wanted": 6}, "level_range"),
        ({"teaches": 2}, "not_cleared"),
        ({"teaches": 0}, "not_cleared"),
        ({"reason": "x" * 201}, "too_long"),
    ],
)
def test_what_is_no_level_or_not_hers_to_sign_is_refused(change, code):
    assert codes(replace(SIGN, **change), found(len(LEVEL_TWO))) == [code]


def test_nothing_comes_after_the_highest_level():
    assert check(KIND, 5, ROWS.values(), {}).onward is None
    assert check(KIND, 4, ROWS.values(), {}).onward == 5


@pytest.mark.parametrize(("teaches", "level", "may"), [(3, 1, False), (4, 1, True), (4, 5, False), (5, 5, True)])
def test_a_senior_teacher_is_cleared_for_the_upper_levels(teaches, level, may):
    assert is_senior(teaches, level) is may


# --- after absence: rule 15, its days are those of review_intervals (common practice, no source) ----------------------

TODAY = date(2026, 3, 12)
INTERVALS = reference.tables()["review_intervals"]


def away(*days_ago: int) -> tuple[Return, int]:
    return coming_back([TODAY - timedelta(days=days) for days in days_ago], TODAY, INTERVALS)


@pytest.mark.parametrize(
    ("days", "down", "lessons", "recheck"),
    [
        (20, 0, 0, Recheck.NONE),
        (21, 1, 1, Recheck.NONE),
        (42, 1, 1, Recheck.NONE),
        (43, 1, 2, Recheck.QUICK),
        (84, 1, 2, Recheck.QUICK),
        (85, 0, 0, Recheck.FULL),
    ],
)
def test_coming_back_asks_by_the_days_away(days, down, lessons, recheck):
    back, _ = away(days)
    assert (back.levels_down, back.lessons, back.recheck) == (down, lessons, recheck)


def test_a_return_is_over_after_the_lessons_it_asks_for():
    assert away(60, 7)[0].lessons == 2 and away(60, 7)[1] == 1
    assert away(60, 7, 3)[0] == Return()
    assert away(30, 7)[0] == Return()
    assert away(120, 7)[0] == Return()


def test_whoever_never_had_a_lesson_comes_back_from_nothing():
    assert away() == (Return(), 0)
