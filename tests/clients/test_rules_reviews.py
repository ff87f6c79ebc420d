"""Reviews are due by lessons or by days, whichever comes first."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules import Rulebook, due
from tests.reference import tables

BOOK = Rulebook.from_tables(tables())
FROM = date(2026, 3, 2)


def asked(kind: str, *, visits_then: int = 10, visits_now: int = 10):
    return due(kind, counted_from=FROM, visits_then=visits_then, visits_now=visits_now, intervals=BOOK.intervals)


def test_a_full_reassessment_is_due_after_12_lessons_or_84_days():
    found = asked("full_reassessment", visits_now=15)
    assert (found.due_on, found.due_visits, found.visits_left) == (FROM + timedelta(days=84), 22, 7)
    assert found.is_due(FROM, 22)
    assert found.is_due(FROM + timedelta(days=84), 10)
    assert not found.is_due(FROM + timedelta(days=83), 21)


def test_what_has_only_days_never_comes_by_lessons_and_the_other_way_round():
    form, check_in = asked("screening_form"), asked("check_in")
    assert (form.due_on, form.due_visits, form.visits_left) == (FROM + timedelta(days=365), None, None)
    assert not form.is_due(FROM, 10_000)
    assert (check_in.due_on, check_in.due_visits) == (None, 11)
    assert not check_in.is_due(FROM + timedelta(days=10_000), 10)


def test_lessons_left_never_fall_below_nought():
    assert asked("short_review", visits_now=40).visits_left == 0


def test_an_unknown_kind_is_an_error():
    with pytest.raises(KeyError):
        asked("tea_break")


@given(st.sampled_from(sorted(BOOK.intervals)), st.integers(0, 400), st.integers(0, 40), st.integers(0, 9))
def test_what_is_due_stays_due(kind, days, visits, more):
    found, on = asked(kind), FROM + timedelta(days=days)
    if found.is_due(on, visits):
        assert found.is_due(on + timedelta(days=more), visits + more)
