"""Everything the rules of openings need over some days, in three queries: studios, teachers, machines."""

import json
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.models import Q

from scheduling.queries.house import House, houses, span_of, wall
from scheduling.queries.lettering import facts_of
from scheduling.rules import resources
from scheduling.rules.hours import WeeklyHours, instructor_spans
from scheduling.rules.places import HOLDING, MOST_MINUTES, LessonKind, PlaceState
from studio.rules import ApparatusKind, Span, zones
from studio.rules.spans import without

LONGEST = timedelta(minutes=MOST_MINUTES)
HELD = [state.value for state in HOLDING]
CAME = [PlaceState.BOOKED.value, PlaceState.HERE.value]

# Written by hand: every refusal looks for what else is free, and putting these two together as querysets takes several
# times as long as running them. The longest lesson bounds the start of what is busy, so the b-tree serves.
TEACHERS = """
    SELECT i.id, p.name, i.needs,
           (SELECT count(*)
              FROM scheduling_place l JOIN scheduling_lesson n ON n.id = l.lesson_id
             WHERE l.client_id = %(client)s AND n.instructor_id = i.id AND l.state = ANY(%(came)s)
               AND upper(l.during) <= %(now)s) AS met,
           (SELECT coalesce(jsonb_agg(jsonb_build_object('kind', t.apparatus_kind, 'level', t.level)), '[]')
              FROM scheduling_mayteach t WHERE t.instructor_id = i.id) AS teaches,
           (SELECT coalesce(jsonb_agg(jsonb_build_object('studio', h.studio_id, 'weekday', h.weekday,
                                                         'starts', h.starts, 'ends', h.ends)), '[]')
              FROM scheduling_hours h WHERE h.instructor_id = i.id) AS weekly,
           (SELECT coalesce(jsonb_agg(jsonb_build_object('start', lower(o.during), 'end', upper(o.during))), '[]')
              FROM scheduling_timeoff o
             WHERE o.instructor_id = i.id AND lower(o.during) < %(end)s AND upper(o.during) > %(start)s) AS off,
           taught.busy, taught.shared
      FROM scheduling_instructor i
      JOIN studio_person p ON p.id = i.person_id,
      LATERAL (
        SELECT coalesce(jsonb_agg(jsonb_build_object('start', lower(n.during), 'end', upper(n.during))), '[]') AS busy,
               coalesce(jsonb_agg(jsonb_build_object(
                   'start', lower(n.during), 'end', upper(n.during), 'id', n.id, 'kind', n.kind,
                   'studio', n.studio_id, 'room', r.name, 'seats', n.seats,
                   'taken', (SELECT count(*) FROM scheduling_place l
                              WHERE l.lesson_id = n.id AND l.live AND l.state = ANY(%(held)s))
               )) FILTER (WHERE n.kind <> 'private'), '[]') AS shared
          FROM scheduling_lesson n
          JOIN scheduling_room r ON r.id = n.room_id
         WHERE n.instructor_id = i.id AND n.live AND n.id IS DISTINCT FROM %(lesson)s
           AND lower(n.during) > %(earliest)s AND lower(n.during) < %(end)s AND upper(n.during) > %(start)s
      ) taught
     WHERE p.is_active
     ORDER BY p.name, i.id
"""
MACHINES = """
    SELECT m.id, m.label, m.kind, m.studio_id, r.name AS room, m.in_service_from, m.in_service_to,
           (SELECT coalesce(jsonb_agg(jsonb_build_object('k', g.k_n_per_m, 'x0', g.x0_m, 'stiffness', g.stiffness_class,
                                                         'calibrated', g.calibrated_on) ORDER BY g.position), '[]')
              FROM scheduling_spring g WHERE g.apparatus_id = m.id AND g.removed_on IS NULL) AS fitted,
           (SELECT max(upper(l.during))
              FROM scheduling_place l
             WHERE l.apparatus_id = m.id AND l.client_id = %(client)s AND l.state = ANY(%(came)s)
               AND upper(l.during) <= %(now)s) AS last,
           (SELECT coalesce(jsonb_agg(jsonb_build_object('start', lower(l.during), 'end', upper(l.during),
                                                         'client', l.client_id)), '[]')
              FROM scheduling_place l
             WHERE l.apparatus_id = m.id AND l.live AND l.state = ANY(%(held)s)
               AND l.lesson_id IS DISTINCT FROM %(lesson)s
               AND lower(l.during) > %(earliest)s AND lower(l.during) < %(end)s AND upper(l.during) > %(start)s
           ) AS busy,
           (SELECT coalesce(jsonb_agg(jsonb_build_object('start', lower(o.during), 'end', upper(o.during))), '[]')
              FROM scheduling_outofservice o
             WHERE o.apparatus_id = m.id AND lower(o.during) < %(end)s AND upper(o.during) > %(start)s) AS out
      FROM scheduling_apparatus m
      JOIN scheduling_room r ON r.id = m.room_id
      JOIN studio_studio s ON s.id = m.studio_id
     WHERE s.closed_on IS NULL
     ORDER BY s.position, r.position, m.position, m.label
"""


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
    lists = ("teaches", "weekly", "off", "busy", "shared")
    return _rows(TEACHERS, lists, span, client=client_id, now=now, lesson=lesson_id)


def _rows(sql: str, lists: Iterable[str], span: Span, **given: Any) -> Iterator[Mapping[str, Any]]:
    """Rows by column name; columns in `lists` hold JSON, which this cursor gives as text."""
    given |= {"held": HELD, "came": CAME, "start": span.start, "end": span.end, "earliest": span.start - LONGEST}
    with connection.cursor() as cursor:
        cursor.execute(sql, given)
        names = [column.name for column in cursor.description]
        for values in cursor.fetchall():
            row = dict(zip(names, values, strict=True))
            yield row | {name: json.loads(row[name]) for name in lists}


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
            lesson["taken"],
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
    return teacher, lessons, row["met"]


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
    return _rows(MACHINES, ("fitted", "busy", "out"), span, client=client_id, now=now, lesson=lesson_id)


def _machine(row: Mapping[str, Any], span: Span, found: Iterable[House]) -> resources.Machine:
    zone = next(house.zone for house in found if house.id == row["studio_id"])
    served = service_span(row["in_service_from"], row["in_service_to"], span, zone)
    return resources.Machine(
        row["id"],
        row["label"],
        ApparatusKind(row["kind"]),
        row["studio_id"],
        row["room"],
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
