"""The facts a booking is decided on. Read under the locks of the action, so that they still hold when it writes."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from clients import queries as client_queries
from scheduling import models
from scheduling.queries.house import House, house_of, range_of, span_of, wall
from scheduling.queries.resources import HELD, service_span, working
from scheduling.rules import booking
from scheduling.rules.hours import WeeklyHours, spans_between
from scheduling.rules.places import LessonKind
from studio.rules import ApparatusKind, Span, zones

# These run under the locks of every booking, where putting a queryset together takes longer than running it.
MACHINE = """
    SELECT m.label, m.kind, m.room_id, r.name, m.in_service_from, m.in_service_to,
           (SELECT jsonb_agg(jsonb_build_object('start', lower(o.during), 'end', upper(o.during)))
              FROM scheduling_outofservice o WHERE o.apparatus_id = m.id AND o.during && %(during)s),
           s.id, s.name, s.time_zone, s.lesson_minutes, s.turnaround_minutes, s.cancel_hours, s.reminder_hours,
           (SELECT jsonb_agg(jsonb_build_object('weekday', h.weekday, 'opens', h.opens, 'closes', h.closes))
              FROM studio_openinghours h WHERE h.studio_id = s.id),
           (SELECT jsonb_agg(jsonb_build_object('first', c.first_day, 'last', c.last_day, 'why', c.why))
              FROM studio_closure c WHERE c.studio_id = s.id)
      FROM scheduling_apparatus m
      JOIN scheduling_room r ON r.id = m.room_id
      JOIN studio_studio s ON s.id = m.studio_id
     WHERE m.id = %(machine)s AND s.closed_on IS NULL
"""
TEACHER = """
    SELECT p.id, p.name, i.needs,
           (SELECT jsonb_object_agg(t.apparatus_kind, t.level)
              FROM scheduling_mayteach t WHERE t.instructor_id = i.id),
           (SELECT jsonb_agg(jsonb_build_object('studio', s.id, 'name', s.name, 'zone', s.time_zone,
                                                'weekday', h.weekday, 'starts', h.starts, 'ends', h.ends))
              FROM scheduling_hours h JOIN studio_studio s ON s.id = h.studio_id WHERE h.instructor_id = i.id),
           (SELECT jsonb_agg(jsonb_build_object('start', lower(o.during), 'end', upper(o.during)))
              FROM scheduling_timeoff o WHERE o.instructor_id = i.id AND o.during && %(during)s)
      FROM scheduling_instructor i
      JOIN studio_person p ON p.id = i.person_id
     WHERE i.id = %(teacher)s AND p.is_active
"""
PLACES = """
    SELECT l.apparatus_id, m.label, l.client_id, c.name, t.name, l.during
      FROM scheduling_place l
      JOIN scheduling_apparatus m ON m.id = l.apparatus_id
      JOIN clients_client c ON c.id = l.client_id
      JOIN scheduling_lesson n ON n.id = l.lesson_id
      JOIN scheduling_instructor i ON i.id = n.instructor_id
      JOIN studio_person t ON t.id = i.person_id
     WHERE (l.apparatus_id = %(machine)s OR l.client_id = %(client)s) AND l.during && %(during)s
       AND l.live AND l.state = ANY(%(held)s) AND l.lesson_id IS DISTINCT FROM %(lesson)s
"""
LESSONS = """
    SELECT t.name, n.kind, n.during,
           ARRAY(SELECT c.name FROM scheduling_place l JOIN clients_client c ON c.id = l.client_id
                  WHERE l.lesson_id = n.id AND l.state = ANY(%(held)s) ORDER BY c.name)
      FROM scheduling_lesson n
      JOIN scheduling_instructor i ON i.id = n.instructor_id
      JOIN studio_person t ON t.id = i.person_id
     WHERE n.instructor_id = %(teacher)s AND n.during && %(during)s AND n.live
       AND n.id IS DISTINCT FROM %(lesson)s
"""
EARLIER = """
    SELECT EXISTS (SELECT FROM scheduling_place
                    WHERE client_id = %(client)s AND live AND state = ANY(%(held)s) AND lower(during) < %(start)s)
"""


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
    rows = _rows(MACHINE, during=_range(span), machine=apparatus_id)
    if not rows:
        raise models.Apparatus.DoesNotExist(f"no apparatus {apparatus_id} in an open studio")
    row = rows[0]
    label, kind, room_id, room, first, last, taken = row[:7]
    studio_id, name, zone, minutes, turn, cancel, reminders = row[7:14]
    hours, closures = _json(row[14]), _json(row[15])
    house = house_of(studio_id, name, zone, minutes, turn, cancel, reminders, hours, closures)
    served = service_span(first, last, span, house.zone)
    machine = booking.Machine(
        label,
        ApparatusKind(kind),
        house.name,
        room,
        in_service=served == span,
        out_of_service=tuple(span_of(one) for one in _json(taken)),
    )
    return Standing(apparatus_id, room_id, machine, house)


def teacher(instructor_id: int, house: House, span: Span) -> Teacher:
    """The teacher around `span`, with hours at `house` and at other studios. One query; raises DoesNotExist."""
    rows = _rows(TEACHER, during=_range(span), teacher=instructor_id)
    if not rows:
        raise models.Instructor.DoesNotExist(f"no teacher {instructor_id} who still works here")
    person_id, name, needs, teaches, hours, off = rows[0]
    weekly = _json(hours)
    first, last = zones.local_day(span.start, house.zone), zones.local_day(span.end, house.zone)
    facts = booking.Instructor(
        name,
        {ApparatusKind(kind): level for kind, level in dict(_json(teaches)).items()},
        working(weekly, (), [house], first, last)[house.id],
        tuple(_elsewhere((row for row in weekly if row["studio"] != house.id), span)),
        tuple(span_of(one) for one in _json(off)),
        frozenset(_json(needs)),
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


def came_before(client_id: UUID, span: Span) -> bool:
    """Whether the client holds or held a place before `span`. One query."""
    return bool(_rows(EARLIER, client=client_id, held=HELD, start=span.start)[0][0])


def _place_clashes(span: Span, apparatus_id: int, client_id: UUID, lesson_id: UUID | None) -> Iterable[booking.Clash]:
    given = {"machine": apparatus_id, "client": client_id, "lesson": lesson_id, "held": HELD}
    for machine_id, label, who_id, who, teacher_name, during in _rows(PLACES, during=_range(span), **given):
        if machine_id == apparatus_id:
            held_by = f"{who}, with {teacher_name}"
            yield booking.Clash(booking.ClashOn.MACHINE, label, held_by, range_of(during))
        if who_id == client_id:
            held_by = f"a lesson on {label}, with {teacher_name}"
            yield booking.Clash(booking.ClashOn.CLIENT, who, held_by, range_of(during))


def _lesson_clashes(span: Span, instructor_id: int, lesson_id: UUID | None) -> Iterable[booking.Clash]:
    given = {"teacher": instructor_id, "lesson": lesson_id, "held": HELD}
    for name, kind, during, people in _rows(LESSONS, during=_range(span), **given):
        held_by = f"a {LessonKind(kind).words} lesson" + (f" with {' and '.join(people)}" if people else "")
        yield booking.Clash(booking.ClashOn.INSTRUCTOR, name, held_by, range_of(during))


def _rows(sql: str, **given: Any) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, given)
        return cursor.fetchall()


def _range(span: Span) -> DateTimeTZRange:
    return DateTimeTZRange(span.start, span.end, "[)")


def _json(text: str | None) -> Any:
    """A JSON column as the cursor gives it; an aggregate over no row is NULL."""
    return json.loads(text) if text else []


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
