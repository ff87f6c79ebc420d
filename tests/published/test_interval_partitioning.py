"""Least number of machines for a timetable: Kleinberg and Tardos, Algorithm Design (2006), section 4.1.

The book was read through its lecture slides (a secondary reading): serving by start time needs as many resources as
there are bookings at the busiest instant. Intervals are half-open.
"""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from scheduling.rules import use
from studio.rules import Span

MIDNIGHT = datetime(2026, 3, 16, tzinfo=UTC)
# Our own timetable; the law it is judged by is the book's.
WORKED = ["9:00-9:55", "9:30-10:25", "9:45-10:40", "10:00-10:55", "10:25-11:20", "10:55-11:50"]

spans = st.lists(
    st.tuples(st.integers(0, 300), st.integers(1, 90)).map(lambda pair: span(pair[0], pair[0] + pair[1])), max_size=25
)
turnarounds = st.integers(0, 15).map(lambda minutes: timedelta(minutes=minutes))


def span(start: int, end: int) -> Span:
    return Span(MIDNIGHT + timedelta(minutes=start), MIDNIGHT + timedelta(minutes=end))


def written(words: str) -> Span:
    start, end = (int(hour) * 60 + int(minute) for hour, minute in (part.split(":") for part in words.split("-")))
    return span(start, end)


def test_the_worked_timetable_needs_three_machines():
    # Kleinberg and Tardos (2006), section 4.1: the depth is 3 (9:45 to 9:55)
    assert use.machines_needed([written(words) for words in WORKED]) == 3


def test_ten_minutes_of_turnaround_make_it_four():
    # Kleinberg and Tardos (2006), section 4.1: each interval ten minutes longer, depth 4 (10:00 to 10:05)
    assert use.machines_needed([written(words) for words in WORKED], timedelta(minutes=10)) == 4


def test_no_booking_needs_no_machine():
    assert use.machines_needed([]) == use.greatest_overlap([]) == 0


@given(spans, turnarounds)
def test_serving_by_start_needs_as_many_machines_as_the_busiest_instant_has_bookings(many, turnaround):
    # Kleinberg and Tardos (2006), section 4.1: earliest start first is optimal; the depth is reached at some start
    depth = max(
        (sum(one.start <= at.start < one.end + turnaround for one in many) for at in many),
        default=0,
    )
    assert use.machines_needed(many, turnaround) == use.greatest_overlap(many, turnaround) == depth


@given(spans, turnarounds)
def test_no_machine_is_given_twice_at_once(many, turnaround):
    numbers = use.machine_numbers(many, turnaround)
    taken = sorted(zip(numbers, many, strict=True))
    for (number, one), (other, following) in pairwise(taken):
        assert number != other or one.end + turnaround <= following.start
