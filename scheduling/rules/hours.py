"""Opening and working hours: weekly wall times of a studio's zone become spans of instants, day by day."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from typing import TypeVar
from zoneinfo import ZoneInfo

from studio.rules import Span, zones
from studio.rules.spans import merged, without

StudioKey = TypeVar("StudioKey")


@dataclass(frozen=True)
class WeeklyHours:
    """From `opens` to `closes` on each `weekday` (Monday is 0), wall times; `closes` 00:00 is the midnight at its end.

    `first` and `last` are the days between which the hours hold, both included; None is open ended. Raises ValueError
    when the hours are empty or the weekday is none.
    """

    weekday: int
    opens: time
    closes: time
    first: date | None = None
    last: date | None = None

    def __post_init__(self) -> None:
        if self.weekday not in range(7):
            raise ValueError("a weekday is 0 (Monday) to 6 (Sunday)")
        if self.closes != time(0) and self.closes <= self.opens:
            raise ValueError("hours end after they start")

    def hold_on(self, day: date) -> bool:
        begun = self.first is None or self.first <= day
        return begun and day.weekday() == self.weekday and (self.last is None or day <= self.last)


def spans_on(
    day: date, weekly: Iterable[WeeklyHours], zone: ZoneInfo, *, without_spans: Iterable[Span] = ()
) -> list[Span]:
    """The open spans (UTC) of a local day, in order, with closures or time off cut out.

    A wall time the clocks skip moves forward; one that comes twice is the first. Hours a gap swallows are left out.
    """
    taken = list(without_spans)
    found = [span for hours in weekly if hours.hold_on(day) and (span := _span(day, hours, zone))]
    return [part for span in merged(found) for part in without(span, taken)]


def spans_between(
    first: date,
    last: date,
    weekly: Sequence[WeeklyHours],
    zone: ZoneInfo,
    *,
    without_spans: Iterable[Span] = (),
) -> list[Span]:
    """`spans_on` for each local day from `first` to `last`, both included."""
    taken = list(without_spans)
    return [span for day in days_between(first, last) for span in spans_on(day, weekly, zone, without_spans=taken)]


def instructor_spans(
    first: date,
    last: date,
    hours: Mapping[StudioKey, tuple[ZoneInfo, Sequence[WeeklyHours]]],
    *,
    time_off: Iterable[Span] = (),
) -> dict[StudioKey, list[Span]]:
    """When an instructor works, by studio: her weekly hours there are wall times of that studio's zone."""
    off = list(time_off)
    return {
        studio: spans_between(first, last, weekly, zone, without_spans=off) for studio, (zone, weekly) in hours.items()
    }


def days_between(first: date, last: date) -> Iterator[date]:
    """Each day from `first` to `last`, both included."""
    for number in range((last - first).days + 1):
        yield first + timedelta(days=number)


def _span(day: date, hours: WeeklyHours, zone: ZoneInfo) -> Span | None:
    start = zones.at(day, hours.opens, zone).instant
    end_day = day + timedelta(days=1) if hours.closes == time(0) else day
    end = zones.at(end_day, hours.closes, zone).instant
    return Span(start, end) if start < end else None
