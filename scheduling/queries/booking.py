"""The facts a booking is decided on. Read under the locks of the action, so that they still hold when it writes."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import F, OuterRef, Q
from django.db.models.functions import JSONObject

from clients import queries as client_queries
from scheduling import models
from scheduling.queries.house import FIELDS, House, closed_of, house_of, range_of, span_of, spans_json, wall, weekly_of
from scheduling.queries.resources import HELD, service_span, working
from scheduling.rules import booking
from scheduling.rules.hours import WeeklyHours, spans_between
from scheduling.rules.places import LessonKind
from studio.rules import ApparatusKind, Span, zones

HOURS = {
    "studio": "studio_id",
    "name": "studio__name",
    "zone": "studio__time_zone",
    "weekday": "weekday",
    "starts": "starts",
    "ends": "ends",
}


@dataclass(frozen=True)
class Standing:
    """The machine asked for, where it stands, and the studio's policy."""

    apparatus_id: int
    room_id: int
    machine: booking.Machine
    house: House


@dataclass(frozen=True)
class Teacher:
    instructor_id: int
    person_id: int
    facts: booking.Instructor


def standing(apparatus_id: int, span: Span) -> Standing:
    """The machine and its studio around `span`. One query; raises Apparatus.DoesNotExist."""
    studio = [F(f"studio__{name}") for name in FIELDS]
    out = models.OutOfService.objects.filter(apparatus=OuterRef("pk")).filter(
        during__startswith__lt=span.end, during__endswith__gt=span.start
    )
    own = ("label", "kind", "room_id", "room__name", "in_service_from", "in_service_to")
    rows = models.Apparatus.objects.filter(pk=apparatus_id, studio__closed_on=None)
    row = rows.values_list(
        *own, ArraySubquery(out.values(j=spans_json())), *studio, weekly_of("studio"), closed_of("studio")
    ).get()
    label, kind, room_id, room, first, last, taken = row[:7]
    house = house_of(*row[7:])
    served = service_span(first, last, span, house.zone)
    machine = booking.Machine(
        label,
        ApparatusKind(kind),
        house.name,
        room,
        in_service=served == span,
        out_of_service=tuple(span_of(one) for one in taken),
    )
    return Standing(apparatus_id, room_id, machine, house)


def teacher(instructor_id: int, house: House, span: Span) -> Teacher:
    """The teacher around `span`, with hours at `house` and at other studios. One query; raises DoesNotExist."""
    of = {"instructor": OuterRef("pk")}
    row = models.Instructor.objects.filter(pk=instructor_id, person__is_active=True).values_list(
        "person_id",
        "person__name",
        "needs",
        ArraySubquery(models.MayTeach.objects.filter(**of).values(j=JSONObject(kind="apparatus_kind", level="level"))),
        ArraySubquery(models.Hours.objects.filter(**of).values(j=JSONObject(**HOURS))),
        ArraySubquery(
            models.TimeOff.objects.filter(**of)
            .filter(during__startswith__lt=span.end, during__endswith__gt=span.start)
            .values(j=spans_json())
        ),
    )
    person_id, name, needs, teaches, weekly, off = row.get()
    first, last = zones.local_day(span.start, house.zone), zones.local_day(span.end, house.zone)
    facts = booking.Instructor(
        name,
        {ApparatusKind(one["kind"]): one["level"] for one in teaches},
        working(weekly, (), [house], first, last)[house.id],
        tuple(_elsewhere((row for row in weekly if row["studio"] != house.id), span)),
        tuple(span_of(one) for one in off),
        frozenset(needs),
    )
    return Teacher(instructor_id, person_id, facts)


def clashes(
    span: Span,
    *,
    apparatus_id: int,
    instructor_id: int,
    client_id: UUID,
    lesson_id: UUID | None = None,
    moving: bool = False,
) -> tuple[booking.Clash, ...]:
    """What stands in the way of a place in `lesson_id`: its teacher may teach it, and when it moves its places may too.

    Two queries.
    """
    return (
        *_place_clashes(span, apparatus_id, client_id, lesson_id if moving else None),
        *_lesson_clashes(span, instructor_id, lesson_id),
    )


def _place_clashes(span: Span, apparatus_id: int, client_id: UUID, lesson_id: UUID | None) -> Iterable[booking.Clash]:
    rows = models.Place.objects.filter(
        Q(apparatus=apparatus_id) | Q(client=client_id),
        live=True,
        state__in=HELD,
        during__overlap=(span.start, span.end),
    )
    if lesson_id is not None:
        rows = rows.exclude(lesson=lesson_id)
    names = ("apparatus_id", "apparatus__label", "client_id", "client__name", "lesson__instructor__person__name")
    for machine_id, label, who_id, who, teacher_name, during in rows.values_list(*names, "during"):
        if machine_id == apparatus_id:
            held_by = f"{who}, with {teacher_name}"
            yield booking.Clash(booking.ClashOn.MACHINE, label, held_by, range_of(during))
        if who_id == client_id:
            held_by = f"a lesson on {label}, with {teacher_name}"
            yield booking.Clash(booking.ClashOn.CLIENT, who, held_by, range_of(during))


def _lesson_clashes(span: Span, instructor_id: int, lesson_id: UUID | None) -> Iterable[booking.Clash]:
    rows = models.Lesson.objects.filter(instructor=instructor_id, live=True, during__overlap=(span.start, span.end))
    if lesson_id is not None:
        rows = rows.exclude(pk=lesson_id)
    who = models.Place.objects.filter(lesson=OuterRef("pk"), state__in=HELD).order_by("client__name")
    names = ArraySubquery(who.values("client__name"))
    for name, kind, during, people in rows.values_list("instructor__person__name", "kind", "during", names):
        held_by = f"a {LessonKind(kind).words} lesson" + (f" with {' and '.join(people)}" if people else "")
        yield booking.Clash(booking.ClashOn.INSTRUCTOR, name, held_by, range_of(during))


def client_facts(client_id: UUID, name: str, *, on: date) -> booking.Client:
    """What the desk may know of a client on a day: her form's standing, in `clients`' own queries."""
    found = client_queries.form_standings([client_id], on=on)[client_id]
    return booking.Client(name, booking.FormWord[found.word.name], found.valid_until, found.missing)


def _elsewhere(weekly: Iterable[Mapping[str, Any]], around: Span) -> Iterable[tuple[str, Span]]:
    """Working spans at other studios near `around`, each in its own studio's wall time."""
    day = timedelta(days=1)
    for row in weekly:
        zone = ZoneInfo(row["zone"])
        first, last = zones.local_day(around.start, zone) - day, zones.local_day(around.end, zone) + day
        hours = WeeklyHours(row["weekday"], wall(row["starts"]), wall(row["ends"]))
        for span in spans_between(first, last, [hours], zone):
            yield row["name"], span
