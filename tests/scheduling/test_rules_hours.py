"""Opening and working hours as spans of instants, across clock changes and two zones. Offsets: IANA tz."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduling.rules import hours
from scheduling.rules.hours import WeeklyHours
from studio.rules import Span

DUBLIN, NEW_YORK = ZoneInfo("Europe/Dublin"), ZoneInfo("America/New_York")
SUNDAY = WeeklyHours(6, time(8), time(20))


def test_a_studio_opens_at_eight_on_both_sides_of_the_change():
    # IANA tz, Europe/Dublin: summer time from 28 March 2027
    spans = hours.spans_between(date(2027, 3, 21), date(2027, 3, 28), [SUNDAY], DUBLIN)
    assert [span.start.hour for span in spans] == [8, 7]
    assert {span.length for span in spans} == {timedelta(hours=12)}


def test_hours_across_the_change_are_as_long_as_they_last():
    # IANA tz, Europe/Dublin: 23 and 25 hours
    round_the_clock = WeeklyHours(6, time(0), time(0))
    [spring] = hours.spans_on(date(2027, 3, 28), [round_the_clock], DUBLIN)
    [autumn] = hours.spans_on(date(2027, 10, 31), [round_the_clock], DUBLIN)
    assert (spring.length, autumn.length) == (timedelta(hours=23), timedelta(hours=25))


def test_hours_that_the_spring_gap_swallows_are_left_out():
    # IANA tz, Europe/Dublin: 01:00 to 02:00 does not exist on 28 March 2027
    assert hours.spans_on(date(2027, 3, 28), [WeeklyHours(6, time(1, 30), time(2, 15))], DUBLIN) == []


def test_a_weekday_without_hours_is_closed():
    assert hours.spans_on(date(2027, 3, 22), [SUNDAY], DUBLIN) == []


def test_closures_are_cut_out_and_touching_stretches_become_one():
    split = [WeeklyHours(6, time(8), time(13)), WeeklyHours(6, time(13), time(20))]
    closure = Span(datetime(2027, 3, 21, 10, tzinfo=UTC), datetime(2027, 3, 21, 11, tzinfo=UTC))
    spans = hours.spans_on(date(2027, 3, 21), split, DUBLIN, without_spans=[closure])
    assert [(span.start.hour, span.end.hour) for span in spans] == [(8, 10), (11, 20)]


def test_hours_hold_from_their_first_day_to_their_last():
    only = WeeklyHours(6, time(8), time(20), first=date(2027, 3, 14), last=date(2027, 3, 21))
    held = [
        day for day in (date(2027, 3, 7), date(2027, 3, 14), date(2027, 3, 21), date(2027, 3, 28)) if only.hold_on(day)
    ]
    assert held == [date(2027, 3, 14), date(2027, 3, 21)]


def test_an_instructor_works_each_studios_own_wall_time_and_time_off_cuts_both():
    weekly = {"Harbour": (DUBLIN, [SUNDAY]), "Mill": (NEW_YORK, [SUNDAY])}
    off = Span(datetime(2026, 1, 4, 12, tzinfo=UTC), datetime(2026, 1, 4, 14, tzinfo=UTC))
    spans = hours.instructor_spans(date(2026, 1, 4), date(2026, 1, 4), weekly, time_off=[off])
    # IANA tz: Dublin +00:00 and New York -05:00 in January
    assert [(span.start.hour, span.end.hour) for span in spans["Harbour"]] == [(8, 12), (14, 20)]
    assert [(span.start.hour, span.end.day) for span in spans["Mill"]] == [(14, 5)]


def test_hours_that_end_before_they_start_are_none():
    with pytest.raises(ValueError, match="end after"):
        WeeklyHours(0, time(20), time(8))
    with pytest.raises(ValueError, match="weekday"):
        WeeklyHours(7, time(8), time(20))
