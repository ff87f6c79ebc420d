"""How full the studio is: machine use by ISO week, teaching load, machines needed, and when it is busy."""

import heapq
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from studio.rules import Span, zones
from studio.rules.spans import merged, without

BREAK_MINUTES = 10


@dataclass(frozen=True)
class Use:
    """Hours of one machine in one ISO week; `used` lies within the open hours, `outside` beside them."""

    iso_year: int
    iso_week: int
    used: float
    open: float
    outside: float = 0.0

    @property
    def share(self) -> float | None:
        """Hours used by hours open, 0 to 1; None when the machine was never open."""
        return self.used / self.open if self.open else None


@dataclass(frozen=True)
class Load:
    """Hours and lessons taught, and the longest run in minutes without a break, small pauses included."""

    hours: float
    lessons: int
    longest_run: float


def machine_use(
    booked: Iterable[Span], opening: Iterable[Span], zone: ZoneInfo, *, out: Iterable[Span] = ()
) -> list[Use]:
    """Use of one machine, one row for each ISO week of `zone` that has open or booked time, in order.

    `opening` are the studio's open spans with closures cut out already, `out` when the machine was out of service.
    Elapsed hours: a day of 23 or 25 hours counts what really passed.
    """
    gone = list(out)
    free = [part for span in merged(opening) for part in without(span, gone)]
    open_weeks, used_weeks, outside_weeks = (defaultdict[date, float](float) for _ in range(3))
    for monday, span in _by_week(free, zone):
        open_weeks[monday] += span.length.total_seconds()
    taken = merged(booked)
    for monday, span in _by_week(taken, zone):
        outside = sum(part.length.total_seconds() for part in without(span, free))
        outside_weeks[monday] += outside
        used_weeks[monday] += span.length.total_seconds() - outside
    return [
        Use(
            *monday.isocalendar()[:2],
            used_weeks[monday] / 3600,
            open_weeks[monday] / 3600,
            outside_weeks[monday] / 3600,
        )
        for monday in sorted({*open_weeks, *outside_weeks})
    ]


def teaching_load(lessons: Iterable[Span], *, break_minutes: float = BREAK_MINUTES) -> Load:
    """Load of one instructor over the spans of her lessons; a pause of `break_minutes` or more ends a run."""
    taught = sorted(lessons)
    hours = sum(span.length.total_seconds() for span in taught) / 3600
    longest = max((span.minutes for span in _runs(taught, break_minutes)), default=0.0)
    return Load(hours, len(taught), longest)


def machines_needed(spans: Iterable[Span], turnaround: timedelta = timedelta(0)) -> int:
    """The least number of alike machines for these bookings, each kept `turnaround` longer (kleinberg2006)."""
    return max(machine_numbers(sorted(spans), turnaround), default=-1) + 1


def machine_numbers(spans: Sequence[Span], turnaround: timedelta = timedelta(0)) -> list[int]:
    """A machine (0, 1, ...) for each of `spans`, served by start; uses as few as can be."""
    numbers = [0] * len(spans)
    busy: list[tuple[datetime, int]] = []
    free: list[int] = []
    made = 0
    for index in sorted(range(len(spans)), key=lambda index: spans[index]):
        start, end = spans[index].start, spans[index].end + turnaround
        while busy and busy[0][0] <= start:
            heapq.heappush(free, heapq.heappop(busy)[1])
        if free:
            numbers[index] = heapq.heappop(free)
        else:
            numbers[index], made = made, made + 1
        heapq.heappush(busy, (end, numbers[index]))
    return numbers


def greatest_overlap(spans: Iterable[Span], turnaround: timedelta = timedelta(0)) -> int:
    """How many bookings there are at the busiest instant, each kept `turnaround` longer; half-open."""
    changes: list[tuple[datetime, int]] = []
    for span in spans:
        changes += [(span.start, 1), (span.end + turnaround, -1)]
    most = now = 0
    # An end sorts before a start at the same instant, so that back-to-back bookings share a machine.
    for _, change in sorted(changes):
        now += change
        most = max(most, now)
    return most


def heat(spans: Iterable[Span], zone: ZoneInfo) -> list[list[int]]:
    """Seven weekdays (Monday first) by 24 wall hours of `zone`: bookings that touch the hour, once each and day."""
    table = [[0] * 24 for _ in range(7)]
    for span in spans:
        for day, hour in _hours_touched(span, zone):
            table[day.weekday()][hour] += 1
    return table


def _by_week(spans: Iterable[Span], zone: ZoneInfo) -> Iterable[tuple[date, Span]]:
    for span in spans:
        monday = zones.monday_of(zones.local_day(span.start, zone))
        rest: Span | None = span
        while rest:
            after = monday + timedelta(days=7)
            week = Span(zones.day_span(monday, zone).start, zones.day_span(after, zone).start)
            if part := rest.common(week):
                yield monday, part
            rest = rest.common(Span(week.end, rest.end)) if week.end < rest.end else None
            monday = after


def _runs(taught: Sequence[Span], break_minutes: float) -> list[Span]:
    runs: list[Span] = []
    for span in taught:
        if runs and (span.start - runs[-1].end).total_seconds() < break_minutes * 60:
            runs[-1] = Span(runs[-1].start, max(runs[-1].end, span.end))
        else:
            runs.append(span)
    return runs


def _hours_touched(span: Span, zone: ZoneInfo) -> set[tuple[date, int]]:
    # Zones differ from UTC by quarters of an hour, so no wall hour starts between two quarters.
    quarter = timedelta(minutes=15)
    instant, end = span.start.astimezone(UTC), span.end.astimezone(UTC)
    touched = set()
    while instant < end:
        local = instant.astimezone(zone)
        touched.add((local.date(), local.hour))
        instant += quarter - timedelta(
            minutes=instant.minute % 15, seconds=instant.second, microseconds=instant.microsecond
        )
    return touched
