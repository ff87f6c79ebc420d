"""Studios with their hours, and how rows of hours become spans: what every other query here stands on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import OuterRef
from django.db.models.functions import JSONObject

from scheduling.rules.hours import WeeklyHours, spans_between
from studio.models import Closure, OpeningHours, Studio
from studio.rules import Span, zones


@dataclass(frozen=True)
class House:
    """A studio with its clock, weekly hours, closures (first day, last day, why) and policy."""

    id: int
    name: str
    zone: ZoneInfo
    weekly: tuple[WeeklyHours, ...]
    closed: tuple[tuple[date, date, str], ...]
    lesson_minutes: int
    turnaround_minutes: int
    cancel_hours: int
    reminder_hours: tuple[int, ...]

    def closures(self) -> tuple[Span, ...]:
        return tuple(
            Span(zones.day_span(first, self.zone).start, zones.day_span(last, self.zone).end)
            for first, last, _ in self.closed
        )

    def opening(self, first: date, last: date) -> tuple[Span, ...]:
        """Open spans of the local days `first` to `last`, closures cut out."""
        return tuple(spans_between(first, last, self.weekly, self.zone, without_spans=self.closures()))

    def why_closed(self, day: date) -> str:
        return next((why for first, last, why in self.closed if first <= day <= last), "")


FIELDS = ("id", "name", "time_zone", "lesson_minutes", "turnaround_minutes", "cancel_hours", "reminder_hours")


def houses() -> list[House]:
    """Every studio that is not given up, in the house's order. One query."""
    rows = Studio.objects.filter(closed_on=None).order_by("position", "id")
    return [house_of(*row) for row in rows.values_list(*FIELDS, weekly_of("pk"), closed_of("pk"))]


def weekly_of(studio: str) -> ArraySubquery:
    """Annotation: opening hours of the studio whose key is in column `studio`."""
    rows = OpeningHours.objects.filter(studio=OuterRef(studio))
    return ArraySubquery(rows.values(j=JSONObject(weekday="weekday", opens="opens", closes="closes")))


def closed_of(studio: str) -> ArraySubquery:
    rows = Closure.objects.filter(studio=OuterRef(studio))
    return ArraySubquery(rows.values(j=JSONObject(first="first_day", last="last_day", why="why")))


def house_of(
    key: int,
    name: str,
    zone: str,
    lesson_minutes: int,
    turnaround_minutes: int,
    cancel_hours: int,
    reminder_hours: Iterable[int],
    weekly: Iterable[Mapping[str, Any]],
    closed: Iterable[Mapping[str, Any]],
) -> House:
    return House(
        key,
        name,
        ZoneInfo(zone),
        tuple(WeeklyHours(row["weekday"], wall(row["opens"]), wall(row["closes"])) for row in weekly),
        tuple((date.fromisoformat(row["first"]), date.fromisoformat(row["last"]), row["why"]) for row in closed),
        lesson_minutes,
        turnaround_minutes,
        cancel_hours,
        tuple(reminder_hours),
    )


def wall(text: str) -> time:
    return time.fromisoformat(text)


def span_of(row: Mapping[str, Any]) -> Span:
    """A span from the `start` and `end` of a JSON row."""
    return Span(datetime.fromisoformat(row["start"]), datetime.fromisoformat(row["end"]))


def range_of(during: Any) -> Span:
    """A span from a range column."""
    return Span(during.lower, during.upper)


def spans_json(**more: str) -> JSONObject:
    return JSONObject(start="during__startswith", end="during__endswith", **more)
