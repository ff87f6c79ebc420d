"""When somebody who was away is asked again. Source: the intervals of the trade notes (studio_practice)."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules import Choices, adjusting
from clients.rules.asking import asks_again
from tests.clients.told import BOOK

ON = date(2026, 3, 2)
LONG_AGO = date(2025, 1, 1)


def asked(days_away, *, told=LONG_AGO, whole_on=None, intervals=BOOK.intervals):
    last_visit = ON - timedelta(days=days_away)
    return asks_again(last_visit=last_visit, told_on=told, on=ON, intervals=intervals, whole_on=whole_on)


@pytest.mark.parametrize(
    ("days_away", "expected"), [(0, ""), (42, ""), (43, "quick"), (84, "quick"), (85, "full"), (400, "full")]
)
def test_more_than_six_weeks_away_asks_for_the_short_form_and_more_than_twelve_for_the_whole(days_away, expected):
    assert asked(days_away) == expected


def test_somebody_who_was_never_here_is_not_away():
    assert asks_again(last_visit=None, told_on=LONG_AGO, on=ON, intervals=BOOK.intervals) == ""


def test_who_answered_since_is_not_asked_again():
    assert asked(50, told=ON - timedelta(days=2)) == ""
    assert asked(100, told=ON - timedelta(days=2)) == ""


def test_a_short_form_does_not_stand_for_the_whole_one():
    answered = ON - timedelta(days=2)
    assert asked(100, told=answered, whole_on=LONG_AGO) == "full"
    assert asked(60, told=answered, whole_on=LONG_AGO) == ""


def test_the_owner_may_ask_sooner():
    sooner = adjusting.adjusted(BOOK, Choices(lines={"absence_middle.days": 22, "absence_long.days": 60}))
    assert asked(22, intervals=sooner.intervals) == "quick"
    assert asked(60, intervals=sooner.intervals) == "full"


@given(st.integers(0, 400), st.integers(0, 100))
def test_a_longer_absence_never_asks_for_less(days, more):
    order = ["", "quick", "full"]
    assert order.index(asked(days + more)) >= order.index(asked(days))
