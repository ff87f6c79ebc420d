"""Load of lessons and weeks. The laws are published (tests/published); what the house adds is common practice."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programming.rules.load import (
    EFFORT_WORDS,
    Rated,
    change_words,
    lesson_load,
    monotony_of,
    strain_of,
    week,
)

MONDAY = date(2026, 3, 9)


def rated(day: int, effort: int | None, minutes: int = 55) -> Rated:
    return Rated(MONDAY + timedelta(days=day), minutes, effort)


def test_effort_seven_for_an_hour_is_420():
    """bodies-and-springs, example four; the law is foster2001."""
    assert lesson_load(7, 60) == 420


@pytest.mark.parametrize(("effort", "minutes"), [(11, 55), (-1, 55), (5, -1)])
def test_what_is_no_effort_or_no_time_is_refused(effort, minutes):
    with pytest.raises(ValueError, match="0 to 10"):
        lesson_load(effort, minutes)


def test_every_effort_from_nought_to_ten_has_its_words():
    assert list(EFFORT_WORDS) == list(range(11))


def test_two_lessons_of_one_day_are_summed_before_the_week_is_looked_at():
    found = week(MONDAY, [rated(0, 4), rated(0, 3), rated(2, 5)])
    assert found.days == (385, 0, 275, 0, 0, 0, 0)
    assert (found.total, found.lessons, found.unrated) == (660, 3, 0)


def test_monotony_is_mean_over_the_sample_deviation_and_strain_the_week_times_it():
    """By hand: days 100 and 0 six times: mean 100/7, deviation sqrt(6 * (100/7)^2 + (600/7)^2) / sqrt(6) = 37.796."""
    days = (100, 0, 0, 0, 0, 0, 0)
    assert monotony_of(days) == pytest.approx((100 / 7) / 37.7964, rel=1e-5)
    assert strain_of(days) == pytest.approx(100 * (100 / 7) / 37.7964, rel=1e-5)


def test_a_week_of_equal_days_has_a_dash_for_monotony_and_strain():
    found = week(MONDAY, [rated(day, 4) for day in range(7)])
    assert (found.monotony, found.strain) == (None, None)
    empty = week(MONDAY, [])
    assert (empty.total, empty.monotony) == (0, None)


def test_a_week_with_a_lesson_nobody_rated_has_no_monotony():
    found = week(MONDAY, [rated(0, 4), rated(2, None)])
    assert (found.unrated, found.total, found.monotony, found.strain) == (1, 220, None, None)


def test_a_lesson_of_the_next_monday_is_not_of_this_week():
    assert week(MONDAY, [rated(7, 9), rated(-1, 9)]).lessons == 0


def test_the_change_from_the_week_before_is_said_in_words_and_only_when_both_are_whole():
    before, now = week(MONDAY, [rated(0, 4)]), week(MONDAY, [rated(0, 6)])
    assert change_words(now, before) == "110 more than the week before"
    assert change_words(before, now) == "110 less than the week before"
    assert change_words(now, now) == "as much as the week before"
    assert change_words(now, week(MONDAY, [])) == ""
    assert change_words(now, week(MONDAY, [rated(0, None)])) == ""


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 10), st.integers(0, 120)), max_size=12))
def test_the_week_holds_every_lesson_once_and_twice_as_long_is_twice_the_load(lessons):
    once = week(MONDAY, [rated(day, effort, minutes) for day, effort, minutes in lessons])
    twice = week(MONDAY, [rated(day, effort, 2 * minutes) for day, effort, minutes in lessons])
    assert once.total == sum(effort * minutes for _, effort, minutes in lessons)
    assert twice.total == 2 * once.total
    assert (once.monotony is None) == (twice.monotony is None)
    if once.monotony is not None and twice.monotony is not None:
        assert twice.monotony == pytest.approx(once.monotony)
