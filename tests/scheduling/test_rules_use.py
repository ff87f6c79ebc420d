"""How full the studio is: machine use by week, teaching load, and the heat table."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.rules import use
from studio.rules import Span

DUBLIN = ZoneInfo("Europe/Dublin")
MONDAY = datetime(2026, 3, 16, tzinfo=UTC)


def hours(start: float, end: float, monday: datetime = MONDAY) -> Span:
    return Span(monday + timedelta(hours=start), monday + timedelta(hours=end))


spans = st.lists(
    st.tuples(st.integers(0, 400), st.integers(1, 60)).map(lambda pair: hours(pair[0] / 4, (pair[0] + pair[1]) / 4)),
    max_size=12,
)


def test_use_is_hours_used_by_hours_open():
    [week] = use.machine_use([hours(9, 10), hours(10, 11)], [hours(8, 16)], DUBLIN)
    assert (week.iso_year, week.iso_week, week.used, week.open, week.share) == (2026, 12, 2, 8, 0.25)


def test_hours_out_of_service_are_not_open():
    [week] = use.machine_use([hours(9, 10)], [hours(8, 16)], DUBLIN, out=[hours(12, 24)])
    assert (week.open, week.share) == (4, 0.25)


def test_time_booked_outside_the_open_hours_is_told_apart():
    [week] = use.machine_use([hours(7, 9)], [hours(8, 16)], DUBLIN)
    assert (week.used, week.outside, week.share) == (1, 1, 0.125)


def test_a_machine_never_open_has_no_share():
    [week] = use.machine_use([hours(9, 10)], [], DUBLIN)
    assert (week.share, week.outside) == (None, 1)


@pytest.mark.parametrize(("sunday", "hours_long"), [("2027-03-28", 23), ("2027-10-31", 25)])
def test_a_day_across_the_change_counts_the_hours_that_pass(sunday, hours_long):
    # IANA tz, Europe/Dublin
    start = datetime.fromisoformat(sunday).replace(tzinfo=DUBLIN)
    day = Span(start, start + timedelta(days=1))
    [week] = use.machine_use([day], [day], DUBLIN)
    assert (week.open, week.used, week.share) == (hours_long, hours_long, 1)


def test_a_booking_over_sunday_midnight_counts_in_both_weeks():
    night = hours(-1, 2)
    weeks = use.machine_use([night], [night], DUBLIN)
    assert [(week.iso_week, week.used) for week in weeks] == [(11, 1), (12, 2)]


def test_the_last_days_of_a_year_may_lie_in_week_53():
    # ISO 8601: 2026 has 53 weeks, 1 January 2027 is in the last of them
    new_year = Span(datetime(2027, 1, 1, 9, tzinfo=UTC), datetime(2027, 1, 1, 10, tzinfo=UTC))
    [week] = use.machine_use([new_year], [new_year], DUBLIN)
    assert (week.iso_year, week.iso_week) == (2026, 53)


@given(spans, spans, spans)
def test_weeks_add_up_to_the_whole(booked, opening, out):
    weeks = use.machine_use(booked, opening, DUBLIN, out=out)
    taken, free = _quarters(booked), _quarters(opening) - _quarters(out)
    assert sum(week.open for week in weeks) == len(free) / 4
    assert sum(week.used for week in weeks) == len(taken & free) / 4
    assert sum(week.outside for week in weeks) == len(taken - free) / 4


def test_a_run_goes_on_over_a_pause_shorter_than_ten_minutes():
    load = use.teaching_load([hours(9, 9.9), hours(10, 10.9), hours(11.5, 12.5)])
    assert (load.lessons, load.longest_run) == (3, pytest.approx(114))
    assert load.hours == pytest.approx(2.8)


def test_a_pause_of_ten_minutes_is_a_break():
    pause = [hours(9, 10), Span(MONDAY + timedelta(hours=10, minutes=10), MONDAY + timedelta(hours=11))]
    assert use.teaching_load(pause).longest_run == 60
    assert use.teaching_load(pause, break_minutes=15).longest_run == 120


def test_who_taught_nothing_has_no_load():
    assert use.teaching_load([]) == use.Load(0, 0, 0)


def test_the_heat_table_counts_a_booking_in_each_wall_hour_it_touches():
    # IANA tz, Europe/Dublin: one hour ahead of UTC in July; 1 July 2026 is a Wednesday
    start = datetime(2026, 7, 1, 8, 30, tzinfo=UTC)
    table = use.heat([Span(start, start + timedelta(minutes=55)), Span(start, start + timedelta(minutes=30))], DUBLIN)
    assert (table[2][9], table[2][10]) == (2, 1)
    assert sum(map(sum, table)) == 3


def test_the_hour_that_comes_twice_counts_a_booking_once():
    # IANA tz, Europe/Dublin: 01:00 to 02:00 comes twice on 31 October 2027
    start = datetime(2027, 10, 31, 0, tzinfo=UTC)
    assert use.heat([Span(start, start + timedelta(hours=2))], DUBLIN)[6][1] == 1


def _quarters(many: list[Span]) -> set[datetime]:
    quarter = timedelta(minutes=15)
    return {one.start + number * quarter for one in many for number in range(int(one.length / quarter))}
