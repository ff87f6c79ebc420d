"""Booking: the product's action, and the API over it, against a raw transaction of the very same statements.

Each booking is done four times and taken back in between: once to note its statements, then in turn by the product,
by its API, and by the bare driver, which sends the noted statements, prepared, with their values in one transaction.
"""

import json
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any
from uuid import UUID, uuid4

import psycopg
from django.conf import settings
from django.db import connection
from django.db.backends.postgresql.psycopg_any import get_adapters_template
from django.test import Client as Browser

from bench import house
from bench.measure import Found, Statement, no_collector, percentile, recorded, spread, timed
from scheduling import actions
from scheduling.rules.places import LessonKind
from studio.rules import Span

WARM_UP, COUNTED = 100, 500
REFORMERS, TEACHERS, CLIENTS = 8, 8, 40
KEPT_DAYS = 6
RATIO_GOAL, HTTP_GOAL = 2.5, 6
NAMES = ("raw", "action", "http")


def run() -> list[Found]:
    place = house.build(reformers=REFORMERS, teachers=TEACHERS, clients=CLIENTS)
    _keep_some(place)
    browser = Browser(HTTP_HOST="localhost")
    browser.force_login(place.desk, backend="django.contrib.auth.backends.ModelBackend")
    took: dict[str, list[float]] = {name: [] for name in NAMES}
    most = 0
    with no_collector(), raw_connection() as bare:
        for number, wish in enumerate(wishes(place)):
            with recorded() as statements:
                book(wish, place)
            take_back(place)
            most = max(most, sum(not one.sql.startswith(("SAVEPOINT", "RELEASE")) for one in statements))
            ways: dict[str, Callable[[], Any]] = {
                "raw": partial(replay, bare, statements),
                "action": partial(book, wish, place),
                "http": partial(post, browser, wish),
            }
            # The order turns, so that no way always finds what another has warmed.
            for turn in range(3):
                name = NAMES[(number + turn) % 3]
                seconds = timed(ways[name])
                take_back(place)
                if number >= WARM_UP:
                    took[name].append(seconds)
    half = {name: percentile(seconds, 50) for name, seconds in took.items()}
    return [
        Found("booking, action ÷ raw transaction, p50", half["action"] / half["raw"], "×", RATIO_GOAL),
        Found("booking, HTTP ÷ raw transaction, p50", half["http"] / half["raw"], "×", HTTP_GOAL),
        Found("booking, statements", most, ""),
        *spread("booking, raw transaction", took["raw"]),
        *spread("booking, action", took["action"]),
        *spread("booking, HTTP in process", took["http"]),
    ]


def wishes(place: house.World) -> Iterator[dict[str, Any]]:
    """Bookings that the house can take, each alone in its weeks."""
    chance = house.dice("booking")
    for number in range(WARM_UP + COUNTED):
        who = place.clients[number % CLIENTS].pk
        span = place.hour(KEPT_DAYS + number % 12, chance.choice(house.HOURS))
        yield _wish(place, who, chance.randrange(REFORMERS), chance.randrange(TEACHERS), span)


def _wish(place: house.World, client_id: UUID, machine: int, teacher: int, span: Span) -> dict[str, Any]:
    return {
        "client_id": client_id,
        "apparatus_id": place.house.reformers[machine].pk,
        "instructor_id": place.house.teachers[teacher].pk,
        "span": span,
        "kind": LessonKind.PRIVATE,
    }


def book(wish: dict[str, Any], place: house.World) -> UUID:
    return actions.book_place(**wish, by=place.desk, now=place.now).pk


def post(browser: Browser, wish: dict[str, Any]) -> None:
    span = wish["span"]
    body = {
        "client_id": str(wish["client_id"]),
        "apparatus_id": wish["apparatus_id"],
        "instructor_id": wish["instructor_id"],
        "start": span.start.isoformat(),
        "minutes": int(span.minutes),
        "kind": wish["kind"].value,
    }
    answer = browser.post(
        "/api/places/", json.dumps(body), content_type="application/json", headers={"Idempotency-Key": str(uuid4())}
    )
    if answer.status_code != 201:
        raise RuntimeError(f"a booking that should pass was answered {answer.status_code}: {answer.content[:300]!r}")


def raw_connection() -> psycopg.Connection:
    """The bare driver on the same database: every statement prepared at its first use, bound by the server."""
    at = connection.settings_dict
    return psycopg.connect(
        host=at["HOST"],
        port=at["PORT"],
        user=at["USER"],
        password=at["PASSWORD"],
        dbname=at["NAME"],
        prepare_threshold=0,
        context=get_adapters_template(settings.USE_TZ, None),
    )


def replay(bare: psycopg.Connection, statements: list[Statement]) -> None:
    """One transaction of these statements; what a statement returns is fetched, as the product has to."""
    with bare.transaction(), bare.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement.sql, statement.params)
            if cursor.description:
                cursor.fetchall()


def _keep_some(place: house.World) -> None:
    """The week before the measured ones is half full, so that nobody looks into empty tables."""
    chance = house.dice("kept")
    for day in range(KEPT_DAYS):
        for hour in house.HOURS:
            people = chance.sample(place.clients, REFORMERS // 2)
            for machine, who in zip(chance.sample(range(REFORMERS), REFORMERS // 2), people, strict=True):
                book(_wish(place, who.pk, machine, machine, place.hour(day, hour)), place)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def take_back(place: house.World) -> None:
    """The measured weeks are empty again. Audit rows stay: they are only ever added."""
    with connection.cursor() as cursor:
        cursor.execute(
            "DELETE FROM scheduling_place WHERE lower(during) >= %s RETURNING 'place:' || id, lesson_id",
            [place.hour(KEPT_DAYS, 0).start],
        )
        about, lessons = map(list, zip(*cursor.fetchall(), strict=True))
        cursor.execute("DELETE FROM scheduling_lesson WHERE id = ANY(%s)", [lessons])
        cursor.execute("DELETE FROM studio_notice WHERE about = ANY(%s)", [about])
        cursor.execute("DELETE FROM clients_care WHERE source = ANY(%s)", [about])
