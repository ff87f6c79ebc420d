"""Load of a lesson and of a week, as the papers reckon it.

Sources (sources.csv): foster2001, J Strength Cond Res 15(1):109-115, abstract: load is the rating times the minutes.
foster1998, Med Sci Sports Exerc 30(7):1164-1168, abstract: monotony is the mean of the days over their deviation,
strain is the load of the week times the monotony. Neither says which deviation; the sample deviation is this house's.
foster2021, abstract: an answer is stable from a minute to fourteen days after.
"""

from datetime import date, timedelta
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programming.rules import load
from tests.reference import table

MONDAY = date(2026, 3, 2)
LOADS = st.lists(st.integers(0, 600), min_size=7, max_size=7)


def lessons(*loads):
    """A week with one lesson a day of so many minutes at effort 1, so that its load is its minutes."""
    return [load.Rated(MONDAY + timedelta(days=day), minutes, 1) for day, minutes in enumerate(loads) if minutes]


def test_an_effort_of_seven_for_sixty_minutes_is_420():
    # foster2001: rating x duration in minutes
    assert load.lesson_load(7, 60) == 420


def test_a_week_with_days_of_rest_counted_as_nought():
    # foster1998: mean over deviation, week times monotony; sample deviation is the house's choice.
    # Days 300, 0, 300, 0, 300, 0, 0: mean 900/7, squares about the mean sum to 3 x 300^2 - 900^2/7.
    week = load.week(MONDAY, lessons(300, 0, 300, 0, 300, 0, 0))
    deviation = sqrt((3 * 300**2 - 900**2 / 7) / 6)
    assert week.total == 900
    assert week.monotony == pytest.approx((900 / 7) / deviation)
    assert week.strain == pytest.approx(900 * (900 / 7) / deviation)


def test_days_that_do_not_differ_have_no_monotony():
    # foster1998: the deviation in the denominator is nought
    week = load.week(MONDAY, lessons(50, 50, 50, 50, 50, 50, 50))
    assert (week.total, week.monotony, week.strain) == (350, None, None)


@given(LOADS, st.integers(2, 5))
def test_monotony_has_no_unit_and_strain_grows_with_the_load(days, factor):
    # foster1998: a week of the same shape at several times the load is as monotonous, and strains as many times more
    one, more = load.monotony_of(days), load.monotony_of([factor * day for day in days])
    if one is None:
        assert more is None
        return
    assert more == pytest.approx(one)
    assert load.strain_of([factor * day for day in days]) == pytest.approx(factor * (load.strain_of(days) or 0))


@given(LOADS, st.randoms(use_true_random=False))
def test_the_order_of_the_days_does_not_matter(days, chance):
    # foster1998: mean and deviation of the seven days
    other = list(days)
    chance.shuffle(other)
    assert load.monotony_of(days) == (pytest.approx(load.monotony_of(other)) if load.monotony_of(other) else None)


def test_an_answer_may_come_up_to_fourteen_days_later():
    # foster2021: stable from one minute to fourteen days
    assert load.ANSWER_DAYS == 14


@pytest.mark.parametrize("source", ["foster1998", "foster2001", "foster2021"])
def test_each_source_says_that_it_was_read(source):
    row = next(row for row in table("sources") if row["id"] == source)
    assert row["how_checked"] == "read"
