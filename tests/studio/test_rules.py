"""Spans of time and the wall clock: the rules every app shares.

Offsets are those of the time-zone database in the locked tzdata package (IANA tz), named beside each row.
"""

import zoneinfo
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.rules import Reason, Refused, Span, zones
from studio.rules.spans import covered, merged, without

NINE = datetime(2026, 3, 16, 9, tzinfo=UTC)


@pytest.fixture(autouse=True, scope="module")
def zones_of_the_package():
    zoneinfo.reset_tzpath(to=())
    ZoneInfo.clear_cache()


def span(start: int, end: int) -> Span:
    """Minutes after nine."""
    return Span(NINE + timedelta(minutes=start), NINE + timedelta(minutes=end))


spans = st.tuples(st.integers(0, 120), st.integers(1, 60)).map(lambda pair: span(pair[0], pair[0] + pair[1]))


def test_back_to_back_spans_do_not_overlap():
    assert not span(0, 55).overlaps(span(55, 110))
    assert span(0, 55).overlaps(span(54, 110))


def test_a_span_needs_aware_bounds_that_grow():
    with pytest.raises(ValueError, match="zone"):
        Span(datetime(2026, 3, 16, 9), datetime(2026, 3, 16, 10))
    with pytest.raises(ValueError, match="after"):
        Span(NINE, NINE)


def test_a_span_in_the_hour_that_comes_twice_is_as_long_as_it_lasts():
    london = ZoneInfo("Europe/London")
    start = datetime(2026, 10, 25, 1, 45, tzinfo=london)
    end = datetime(2026, 10, 25, 1, 15, fold=1, tzinfo=london)
    assert Span(start, end).length == timedelta(minutes=30)
    assert not Span(start, end).overlaps(Span(end, end + timedelta(hours=1)))


def test_a_lesson_across_the_spring_change_lasts_its_elapsed_time():
    new_york = ZoneInfo("America/New_York")
    start = datetime(2027, 3, 14, 1, 30, tzinfo=new_york)
    assert Span(start, datetime(2027, 3, 14, 3, 25, tzinfo=new_york)).minutes == 55


@given(st.lists(spans, max_size=8))
def test_merging_keeps_every_minute_and_leaves_no_touching_spans(many):
    result = merged(many)
    assert _minutes(result) == _minutes(many)
    assert all(a.end < b.start for a, b in pairwise(result))


@given(spans, st.lists(spans, max_size=8))
def test_cutting_out_leaves_exactly_the_minutes_not_taken(whole, taken):
    assert _minutes(without(whole, taken)) == _minutes([whole]) - _minutes(taken)


@given(spans, st.lists(spans, max_size=8))
def test_a_span_is_covered_when_no_minute_of_it_is_left_over(whole, by):
    assert covered(whole, by) == (not without(whole, by))


@given(spans, spans)
def test_two_spans_share_a_part_when_they_overlap(one, other):
    common = one.common(other)
    assert (common is not None) == one.overlaps(other)
    assert _minutes([common] if common else []) == _minutes([one]) & _minutes([other])


def test_a_refusal_carries_a_reason():
    with pytest.raises(ValueError, match="reason"):
        Refused([])
    assert Refused(Reason("full", "It is full.")).reasons[0].code == "full"


@pytest.mark.parametrize(
    ("zone", "wall", "first", "second", "kind", "becomes"),
    [
        # IANA tz, Europe/Dublin: winter is the negative saving time
        ("Europe/Dublin", "2027-03-28 01:30", 0, 60, "gap", "02:30"),
        ("Europe/Dublin", "2027-10-31 01:30", 60, 0, "twice", "01:30"),
        # IANA tz, Europe/London
        ("Europe/London", "2026-10-25 01:30", 60, 0, "twice", "01:30"),
        # IANA tz, America/New_York
        ("America/New_York", "2027-03-14 02:30", -300, -240, "gap", "03:30"),
        ("America/New_York", "2027-11-07 01:30", -240, -300, "twice", "01:30"),
        # IANA tz, Australia/Lord_Howe: the clocks move half an hour
        ("Australia/Lord_Howe", "2027-04-04 01:45", 660, 630, "twice", "01:45"),
        # IANA tz, Africa/Casablanca: the clocks follow Ramadan, for the last time in 2026 (release 2026f)
        ("Africa/Casablanca", "2026-02-15 02:30", 60, 0, "twice", "02:30"),
        # IANA tz 2026f, Africa/Casablanca: +00 for good since September 2026; older releases have this hour twice
        ("Africa/Casablanca", "2027-02-07 02:30", 0, 0, "once", "02:30"),
        # IANA tz, America/Vancouver: no more changes after March 2026
        ("America/Vancouver", "2026-12-01 09:00", -420, -420, "once", "09:00"),
    ],
)
def test_a_wall_time_becomes_its_instant_and_says_when_the_clocks_meddled(zone, wall, first, second, kind, becomes):
    there, naive = ZoneInfo(zone), datetime.fromisoformat(wall)
    assert _offset(naive, there, fold=0) == first
    assert _offset(naive, there, fold=1) == second
    found = zones.at(naive.date(), naive.time(), there)
    assert (found.shifted, found.twice) == (kind == "gap", kind == "twice")
    assert f"{found.instant.astimezone(there):%H:%M}" == becomes
    assert found.instant == (naive - timedelta(minutes=first)).replace(tzinfo=UTC)


def test_a_weekly_nine_oclock_stays_at_nine_across_the_change():
    dublin = ZoneInfo("Europe/Dublin")
    days = [date(2027, 3, 21) + timedelta(weeks=week) for week in range(3)]
    # IANA tz, Europe/Dublin: summer time from 28 March 2027
    assert [zones.at(day, time(9), dublin).instant.hour for day in days] == [9, 8, 8]


@pytest.mark.parametrize(
    ("day", "hours"),
    [(date(2027, 3, 28), 23), (date(2027, 10, 31), 25), (date(2027, 6, 1), 24)],
)
def test_a_local_day_lasts_as_long_as_the_clocks_make_it(day, hours):
    # IANA tz, Europe/Dublin
    assert zones.day_span(day, ZoneInfo("Europe/Dublin")).length == timedelta(hours=hours)


def test_the_day_and_its_monday_are_those_of_the_studio():
    late = datetime(2026, 3, 15, 23, 30, tzinfo=UTC)
    assert zones.local_day(late, ZoneInfo("Europe/Madrid")) == date(2026, 3, 16)
    assert zones.monday_of(date(2026, 3, 22)) == date(2026, 3, 16)


@given(
    st.datetimes(datetime(2026, 1, 1), datetime(2029, 12, 31)), st.sampled_from(["Europe/Dublin", "America/New_York"])
)
def test_an_instant_read_back_is_the_wall_time_unless_the_clocks_skipped_it(naive, name):
    zone = ZoneInfo(name)
    found = zones.at(naive.date(), naive.time(), zone)
    assert (found.instant.astimezone(zone).replace(tzinfo=None) == naive) == (not found.shifted)


def _offset(naive: datetime, zone: ZoneInfo, *, fold: int) -> float:
    offset = naive.replace(tzinfo=zone, fold=fold).utcoffset()
    assert offset is not None
    return offset / timedelta(minutes=1)


def _minutes(many: list[Span]) -> set[datetime]:
    return {one.start + timedelta(minutes=minute) for one in many for minute in range(int(one.minutes))}
