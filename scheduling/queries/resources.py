"""Everything the rules of openings need over some days, in three queries: studios, teachers, machines."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Count, F, OuterRef, Q, Subquery
from django.db.models.functions import JSONObject

from scheduling import models
from scheduling.queries.house import House, houses, listed, span_of, spans_json, wall
from scheduling.queries.lettering import facts_of, springs_of
from scheduling.rules import resources
from scheduling.rules.hours import WeeklyHours, instructor_spans
from scheduling.rules.places import HOLDING, MOST_MINUTES, LessonKind, PlaceState
from studio.rules import ApparatusKind, Span, zones
from studio.rules.spans import without

LONGEST = timedelta(minutes=MOST_MINUTES)
HELD = [state.value for state in HOLDING]
CAME = [PlaceState.BOOKED.value, PlaceState.HERE.value]


def touching(span: Span, prefix: str = "") -> Q:
    """Rows whose `during` shares an instant with `span`; the longest lesson bounds the start, so the b-tree serves."""
    return Q(
        **{
            f"{prefix}during__startswith__gt": span.start - LONGEST,
            f"{prefix}during__startswith__lt": span.end,
            f"{prefix}during__endswith__gt": span.start,
        }
    )


def over(first: date, last: date, places: Iterable[House]) -> Span:
    """From the first to the last of these local days in every zone, with half a day to both sides."""
    spans = [zones.day_span(day, house.zone) for house in places for day in (first, last)]
    if not spans:
        raise ValueError("there is no studio yet")
    half = timedelta(hours=12)
    return Span(min(span.start for span in spans) - half, max(span.end for span in spans) + half)


def resources_over(
    first: date, last: date, *, client_id: UUID | None = None, now: datetime, lesson_id: UUID | None = None
) -> tuple[list[House], resources.Resources]:
    """What there is from `first` to `last`; the bookings of `lesson_id` count as free. Three queries.

    Raises ValueError when there is no studio yet.
    """
    found = houses()
    span = over(first, last, found)
    teachers = [_teacher(row, found, first, last) for row in _teacher_rows(span, client_id, now, lesson_id)]
    machines = list(_machine_rows(span, client_id, now, lesson_id))
    rows = resources.Resources(
        studios=tuple(_studio(house, first, last) for house in found),
        instructors=tuple(teacher for teacher, _, _ in teachers),
        machines=tuple(_machine(row, span, found) for row in machines),
        lessons=tuple(lesson for _, lessons, _ in teachers for lesson in lessons),
        client_busy=tuple(
            span_of(row) for machine in machines for row in machine["busy"] if row["client"] == str(client_id)
        ),
        usual_instructor_id=_usual(teachers),
        last_machine_id=_last(machines),
    )
    return found, rows


def _studio(house: House, first: date, last: date) -> resources.Studio:
    opening = house.opening(first, last)
    return resources.Studio(house.id, house.name, house.zone, opening, house.turnaround_minutes)


def _teacher_rows(
    span: Span, client_id: UUID | None, now: datetime, lesson_id: UUID | None
) -> Iterable[Mapping[str, Any]]:
    of = {"instructor": OuterRef("pk")}
    held = models.Place.objects.filter(lesson=OuterRef("pk"), live=True, state__in=HELD).order_by()
    taken = held.values("lesson").annotate(n=Count("pk")).values("n")
    others = models.Lesson.objects.filter(touching(span), ~Q(pk=lesson_id), live=True, **of)
    shared = others.exclude(kind=LessonKind.PRIVATE.value).annotate(taken=Subquery(taken))
    known = {"id": "id", "kind": "kind", "studio": "studio_id", "room": "room__name", "seats": "seats"}
    came = models.Place.objects.filter(
        client=client_id, state__in=CAME, lesson__instructor=OuterRef("pk"), during__endswith__lte=now
    )
    met = came.order_by().values("client").annotate(n=Count("pk")).values("n")
    return (
        models.Instructor.objects.filter(person__is_active=True)
        .order_by("person__name", "pk")
        .values(
            "id",
            "needs",
            name=F("person__name"),
            met=Subquery(met),
            teaches=listed(
                models.MayTeach.objects.filter(**of).values(j=JSONObject(kind="apparatus_kind", level="level"))
            ),
            weekly=listed(
                models.Hours.objects.filter(**of).values(
                    j=JSONObject(studio="studio_id", weekday="weekday", starts="starts", ends="ends")
                )
            ),
            off=listed(
                models.TimeOff.objects.filter(**of)
                .filter(during__startswith__lt=span.end, during__endswith__gt=span.start)
                .values(j=spans_json())
            ),
            busy=listed(others.values(j=spans_json())),
            shared=listed(shared.values(j=spans_json(**known, taken="taken"))),
        )
    )


def _teacher(
    row: Mapping[str, Any], found: list[House], first: date, last: date
) -> tuple[resources.Instructor, list[resources.JoinableLesson], int]:
    lessons = [
        resources.JoinableLesson(
            UUID(lesson["id"]),
            LessonKind(lesson["kind"]),
            span_of(lesson),
            row["id"],
            lesson["studio"],
            lesson["room"],
            lesson["seats"],
            lesson["taken"] or 0,
        )
        for lesson in row["shared"]
    ]
    teacher = resources.Instructor(
        row["id"],
        row["name"],
        working(row["weekly"], row["off"], found, first, last),
        {ApparatusKind(one["kind"]): one["level"] for one in row["teaches"]},
        tuple(span_of(one) for one in row["busy"]),
        frozenset(row["needs"]),
    )
    return teacher, lessons, row["met"] or 0


def working(
    weekly: Iterable[Mapping[str, Any]],
    off: Iterable[Mapping[str, Any]],
    found: Iterable[House],
    first: date,
    last: date,
) -> dict[resources.Key, tuple[Span, ...]]:
    """When somebody works, by studio: weekly wall times there, with time off cut out."""
    rows = list(weekly)
    hours = {
        house.id: (
            house.zone,
            [
                WeeklyHours(row["weekday"], wall(row["starts"]), wall(row["ends"]))
                for row in rows
                if row["studio"] == house.id
            ],
        )
        for house in found
    }
    spans = instructor_spans(first, last, hours, time_off=[span_of(row) for row in off])
    return {studio: tuple(found_spans) for studio, found_spans in spans.items()}


def _machine_rows(
    span: Span, client_id: UUID | None, now: datetime, lesson_id: UUID | None
) -> Iterable[Mapping[str, Any]]:
    of = {"apparatus": OuterRef("pk")}
    busy = models.Place.objects.filter(touching(span), live=True, state__in=HELD, **of).exclude(lesson=lesson_id)
    last = models.Place.objects.filter(client=client_id, state__in=CAME, during__endswith__lte=now, **of)
    rows = models.Apparatus.objects.filter(studio__closed_on=None).order_by(
        "studio__position", "room__position", "position", "label"
    )
    return rows.values(
        "id",
        "label",
        "kind",
        "studio_id",
        "room__name",
        "in_service_from",
        "in_service_to",
        fitted=springs_of("pk"),
        last=Subquery(last.order_by("-during").values("during__endswith")[:1]),
        busy=listed(busy.values(j=spans_json(client="client_id"))),
        out=listed(
            models.OutOfService.objects.filter(**of)
            .filter(during__startswith__lt=span.end, during__endswith__gt=span.start)
            .values(j=spans_json())
        ),
    )


def _machine(row: Mapping[str, Any], span: Span, found: Iterable[House]) -> resources.Machine:
    zone = next(house.zone for house in found if house.id == row["studio_id"])
    served = service_span(row["in_service_from"], row["in_service_to"], span, zone)
    return resources.Machine(
        row["id"],
        row["label"],
        ApparatusKind(row["kind"]),
        row["studio_id"],
        row["room__name"],
        tuple(span_of(one) for one in row["busy"]),
        tuple(without(served, [span_of(one) for one in row["out"]])) if served else (),
        facts_of(row["fitted"]),
    )


def service_span(first: date, last: date | None, span: Span, zone: Any) -> Span | None:
    """The part of `span` in which a machine in service from `first` to `last` can be used."""
    start = zones.at(first, time(0), zone).instant
    end = zones.day_span(last, zone).end if last else max(span.end, start + timedelta(days=1))
    return Span(start, end).common(span)


def _usual(teachers: Iterable[tuple[resources.Instructor, Any, int]]) -> resources.Key | None:
    met = max(teachers, key=lambda one: one[2], default=None)
    return met[0].id if met and met[2] else None


def _last(machines: Iterable[Mapping[str, Any]]) -> resources.Key | None:
    used = [machine for machine in machines if machine["last"]]
    return max(used, key=lambda machine: machine["last"])["id"] if used else None
