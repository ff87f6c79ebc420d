"""Thirty-two people book the same hour on eight reformers, each in a process and on a connection of its own."""

import multiprocessing
from time import perf_counter
from typing import Any

from django.db import connection, connections

from bench import house
from bench.measure import EXACTLY, Found, spread
from scheduling import actions
from scheduling.rules.places import LessonKind
from studio.rules import Refused

RACERS, REFORMERS, TEACHERS, ROUNDS = 32, 8, 12, 16
P99_GOAL = 250
fork = multiprocessing.get_context("fork")
OVERLAPS = """
    SELECT (SELECT count(*) FROM scheduling_place a JOIN scheduling_place b ON a.id < b.id AND a.during && b.during
            AND (a.apparatus_id = b.apparatus_id OR a.client_id = b.client_id)
            WHERE a.live AND b.live AND a.state IN ('booked', 'here') AND b.state IN ('booked', 'here'))
         + (SELECT count(*) FROM scheduling_lesson a JOIN scheduling_lesson b ON a.id < b.id
            AND a.during && b.during AND a.instructor_id = b.instructor_id WHERE a.live AND b.live)
"""


def run() -> list[Found]:
    place = house.build(reformers=REFORMERS, teachers=TEACHERS, clients=RACERS)
    before = _one("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
    answers = _race(place)
    won = [took for verdict, took in answers if verdict == "won"]
    lost = [took for verdict, took in answers if verdict == "lost"]
    broke = [verdict for verdict, _ in answers if verdict not in ("won", "lost")]
    if broke:
        raise RuntimeError(f"{len(broke)} of {len(answers)} racers broke: {broke[0]}")
    if _one("SELECT count(*) FROM scheduling_place") != len(won):
        raise RuntimeError("the table does not hold just the bookings that were answered")
    after = _one("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
    found = spread("race of 32 for 8 reformers, an answer", won + lost, goals={99: P99_GOAL})
    return [
        Found("race of 32 for 8 reformers, double bookings", _one(OVERLAPS), "", 0, EXACTLY),
        Found("race of 32 for 8 reformers, deadlocks", after - before, "", 0, EXACTLY),
        *found,
        *spread("race, a booking that was won", won),
        *spread("race, a refusal with alternatives", lost),
        Found("race, bookings won", len(won), f"of {len(answers)}"),
    ]


def _race(place: house.World) -> list[tuple[str, float]]:
    connections.close_all()
    gate, answers = fork.Barrier(RACERS), fork.Queue()
    racers = [fork.Process(target=_racer, args=(number, place, gate, answers)) for number in range(RACERS)]
    for racer in racers:
        racer.start()
    try:
        return [answers.get(timeout=120) for _ in range(RACERS * ROUNDS)]
    finally:
        for racer in racers:
            racer.join(timeout=20)
            if racer.is_alive():
                racer.kill()


def _racer(number: int, place: house.World, gate: Any, answers: Any) -> None:
    """One round an hour, all let go at once: a machine and a teacher by lot, one answer."""
    connection.ensure_connection()
    chance = house.dice(f"racer {number}")
    for at in range(ROUNDS):
        wish = {
            "client_id": place.clients[number].pk,
            "apparatus_id": chance.choice(place.house.reformers).pk,
            "instructor_id": chance.choice(place.house.teachers).pk,
            "span": place.hour(at // 8, 8 + at % 8),
            "kind": LessonKind.PRIVATE,
        }
        gate.wait(timeout=60)
        start = perf_counter()
        answers.put((_attempt(wish, place), perf_counter() - start))
    connections.close_all()


def _attempt(wish: dict[str, Any], place: house.World) -> str:
    try:
        actions.book_place(**wish, by=None, now=place.now)
    except Refused as refused:
        codes = {reason.code for reason in refused.reasons}
        return "lost" if codes <= {"machine_taken", "instructor_taken"} else f"refused: {codes}"
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    return "won"


def _one(sql: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_force_next_flush(), pg_stat_clear_snapshot()")
        cursor.execute(sql)
        return int(cursor.fetchone()[0])
