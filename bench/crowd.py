"""Many rows quickly: a crowd of clients, and lessons with a place each, by SQL under the tables' own constraints."""

from collections.abc import Iterator
from contextlib import contextmanager
from copy import copy
from datetime import datetime
from typing import Any
from uuid import uuid4

from django.db import connection

from bench import house
from clients import models as client_models

# Rows stand hour by hour, `width` machines in each hour, fourteen hours a day, and day after day into the past.
LESSONS = """
    INSERT INTO scheduling_lesson (id, studio_id, room_id, kind, during, live, instructor_id, seats, version, made_at)
    SELECT md5('lesson' || n)::uuid, %(studio)s, %(room)s, 'private', tstzrange(starts, starts + interval '55 minutes'),
           true, (%(teachers)s::bigint[])[n %% %(width)s + 1], 1, 1, %(now)s
      FROM generate_series(%(first)s::int, %(last)s::int - 1) n
     CROSS JOIN LATERAL (SELECT %(start)s - interval '1 day' * (n / (14 * %(width)s))
                                + interval '1 hour' * (n / %(width)s %% 14) AS starts) hour
"""
PLACES = """
    INSERT INTO scheduling_place (id, lesson_id, during, live, client_id, apparatus_id, state, state_at, form_runs_out,
                                  first_visit, booked_at, visit_counted)
    SELECT md5('place' || n)::uuid, id, during, live,
           (%(clients)s::uuid[])[(n / %(width)s * (%(width)s + 1) + n %% %(width)s) %% %(crowd)s + 1],
           (%(machines)s::bigint[])[n %% %(width)s + 1], 'booked', %(now)s, false, false, %(now)s, false
      FROM generate_series(%(first)s::int, %(last)s::int - 1) n
      JOIN scheduling_lesson ON scheduling_lesson.id = md5('lesson' || n)::uuid
"""
LAID_ASIDE = """
    SELECT 'ALTER TABLE ' || conrelid::regclass || ' DROP CONSTRAINT ' || quote_ident(conname),
           'ALTER TABLE ' || conrelid::regclass || ' ADD CONSTRAINT ' || quote_ident(conname) || ' '
           || pg_get_constraintdef(oid), contype = 'f' AS is_key
      FROM pg_constraint
     WHERE conrelid IN ('scheduling_lesson'::regclass, 'scheduling_place'::regclass) AND contype IN ('x', 'u', 'f')
     UNION ALL
    SELECT 'DROP INDEX ' || indexrelid::regclass, pg_get_indexdef(indexrelid), false
      FROM pg_index
     WHERE indrelid IN ('scheduling_lesson'::regclass, 'scheduling_place'::regclass)
       AND NOT EXISTS (SELECT FROM pg_constraint WHERE conindid = indexrelid)
"""


def clients(place: house.World, count: int) -> None:
    """`count` more clients like the first one, each with her own signed form in force."""
    pattern = client_models.Screening.objects.select_related("client", "form").get(client=place.clients[0])
    people, forms, screenings = [], [], []
    for number in range(count):
        who, form, screening = copy(pattern.client), copy(pattern.form), copy(pattern)
        who.pk, form.pk, screening.pk = uuid4(), uuid4(), uuid4()
        who.name = who.name_key = f"client {number}"
        form.client, screening.client, screening.form = who, who, form
        people.append(who)
        forms.append(form)
        screenings.append(screening)
    client_models.Client.objects.bulk_create(people)
    client_models.HealthForm.objects.bulk_create(forms)
    client_models.Screening.objects.bulk_create(screenings)
    place.clients.extend(people)


def lessons(place: house.World, first: int, last: int, *, start: datetime) -> None:
    """Rows `first` to `last` of the timetable that has its latest day at `start`, the instant its doors open."""
    given: dict[str, Any] = {
        "studio": place.house.studio.pk,
        "room": place.house.room.pk,
        "teachers": [teacher.pk for teacher in place.house.teachers],
        "machines": [machine.pk for machine in place.house.reformers],
        "clients": [who.pk for who in place.clients],
        "crowd": len(place.clients),
        "width": min(len(place.house.reformers), len(place.house.teachers)),
        "start": start,
        "now": place.now,
        "first": first,
        "last": last,
    }
    with connection.cursor() as cursor:
        cursor.execute(LESSONS, given)
        cursor.execute(PLACES, given)


@contextmanager
def indexes_laid_aside() -> Iterator[None]:
    """Both tables without indexes and keys while they are filled; then each is made again by its own definition."""
    with connection.cursor() as cursor:
        cursor.execute("SET maintenance_work_mem = '256MB'")
        cursor.execute(LAID_ASIDE)
        found = sorted(cursor.fetchall(), key=lambda row: not row[2])
        for drop, _, _ in found:
            cursor.execute(drop)
        yield
        for _, make, _ in reversed(found):
            cursor.execute(make)


def settle() -> None:
    """What autovacuum would have done by the next morning."""
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE scheduling_lesson, scheduling_place, clients_client, clients_screening")
