"""Quarter hours of shared items: whole ones, moved with their lesson, never outside it."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from scheduling.rules.items import QUARTER, first_free, moved, whole_quarters
from studio.rules import Span

NINE = datetime(2026, 3, 2, 9, tzinfo=UTC)


def at(minute, length=15):
    return Span(NINE + timedelta(minutes=minute), NINE + timedelta(minutes=minute + length))


SPANS = st.builds(at, st.integers(0, 600), st.integers(1, 240))


@given(SPANS)
def test_whole_quarters_hold_the_span_and_nothing_more_than_they_must(span):
    whole = whole_quarters(span)
    assert whole.contains(span)
    assert whole.start.minute % 15 == whole.end.minute % 15 == 0
    assert span.start - whole.start < QUARTER
    assert whole.end - span.end < QUARTER
    assert whole_quarters(whole) == whole


def test_a_span_on_the_quarter_keeps_to_it():
    assert whole_quarters(at(15, 30)) == at(15, 30)


def test_a_hold_goes_with_its_lesson():
    assert moved(at(15), lesson=at(0, 60), to=at(120, 60)) == at(135)


def test_a_lesson_off_the_quarter_takes_the_quarters_it_touches():
    assert moved(at(15), lesson=at(0, 60), to=at(125, 60)) == at(135, 30)


def test_a_hold_is_cut_where_the_shorter_lesson_ends_and_gone_when_it_lies_behind_it():
    assert moved(at(15, 45), lesson=at(0, 60), to=at(0, 30)) == at(15)
    assert moved(at(45), lesson=at(0, 60), to=at(0, 30)) is None


@given(SPANS, SPANS)
def test_a_moved_hold_never_leaves_the_quarters_of_its_lesson(lesson, to):
    hold = whole_quarters(lesson)
    found = moved(hold, lesson=lesson, to=to)
    assert found is not None
    assert whole_quarters(to).contains(found)


def test_the_first_item_that_nobody_has_then_is_taken_and_a_neighbouring_hold_is_not_in_the_way():
    held = [(1, [at(0)]), (2, [at(15)]), (3, [])]
    assert first_free(at(0), held) == 2
    assert first_free(at(0, 30), held) == 3
    assert first_free(at(0), held[:1]) is None
