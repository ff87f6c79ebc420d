"""Openings over four weeks, twelve machines and ten teachers, three days in four already full."""

from datetime import datetime, time, timedelta

from django.db import connection

from bench import crowd, house
from bench.measure import Found, no_collector, recorded, spread, timed
from scheduling import queries
from scheduling.rules.openings import Wanted
from scheduling.rules.places import LessonKind
from studio.rules import ApparatusKind

MACHINES, TEACHERS, WEEKS = 12, 10, 4
WARM_UP, COUNTED = 5, 60
P50_GOAL, QUERIES_GOAL = 50, 3


def run() -> list[Found]:
    place = house.build(reformers=MACHINES, teachers=TEACHERS, clients=60)
    latest = place.monday + timedelta(days=7 * WEEKS - 1)
    start = datetime.combine(latest, time(house.HOURS.start), place.house.zone)
    crowd.lessons(place, 0, 7 * WEEKS * len(house.HOURS) * TEACHERS, start=start)
    _leave_a_quarter_free()
    crowd.settle()
    wanted = Wanted(
        minutes=55,
        kind=LessonKind.PRIVATE,
        days=queries.days_from(place.monday, weekdays=(), weeks=WEEKS),
        apparatus_kind=ApparatusKind.REFORMER,
    )

    def look() -> list[queries.OpeningView]:
        return queries.openings(wanted, now=place.now, client_id=place.clients[0].pk)

    with recorded() as statements:
        found = look()
    if not found:
        raise RuntimeError("no opening where a quarter of the hours is free")
    with no_collector():
        took = [timed(look) for _ in range(WARM_UP + COUNTED)][WARM_UP:]
    return [
        *spread("openings, 4 weeks × 12 machines × 10 teachers", took, goals={50: P50_GOAL}),
        Found("openings, queries", len(statements), "", QUERIES_GOAL),
    ]


def _leave_a_quarter_free() -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM scheduling_place WHERE hashtext(id::text) % 4 = 0 RETURNING lesson_id")
        free = [lesson_id for (lesson_id,) in cursor.fetchall()]
        cursor.execute("DELETE FROM scheduling_lesson WHERE id = ANY(%s)", [free])
