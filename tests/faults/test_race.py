"""Sixteen processes want the same machine or the same teacher: one gets it, the others hear who, nobody deadlocks."""

import multiprocessing
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.db import connection, connections

from scheduling import actions, models
from scheduling.rules.places import LessonKind
from studio.rules import Refused
from tests import make_scheduling as at_work
from tests.make_scheduling import NOW, span

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]

RACERS = 16
fork = multiprocessing.get_context("fork")


def race(deeds: list[Any]) -> list[str]:
    """Each deed in a process and connection of its own, all let go at once; what each of them answered."""
    connections.close_all()
    gate, answers = fork.Barrier(len(deeds)), fork.Queue()
    racers = [fork.Process(target=run, args=(deed, gate, answers)) for deed in deeds]
    for racer in racers:
        racer.start()
    found = [answers.get(timeout=60) for _ in racers]
    for racer in racers:
        racer.join(timeout=20)
    assert all(racer.exitcode == 0 for racer in racers)
    return found


def run(deed: Any, gate: Any, answers: Any) -> None:
    connection.ensure_connection()
    gate.wait(timeout=30)
    try:
        deed()
        answers.put("done")
    except Refused as refused:
        answers.put("; ".join(f"{reason.code}: {reason.says}" for reason in refused.reasons))
    except Exception as error:
        answers.put(f"broke: {type(error).__name__}: {error}")
    finally:
        connections.close_all()


def deadlocks() -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_force_next_flush()")
        cursor.execute("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
        return cursor.fetchone()[0]


def overlaps() -> int:
    """Pairs of held places or live lessons over the same time: the oracle, in plain SQL."""
    pairs = """
        SELECT (SELECT count(*) FROM scheduling_place a JOIN scheduling_place b ON a.id < b.id AND a.during && b.during
                AND (a.apparatus_id = b.apparatus_id OR a.client_id = b.client_id)
                WHERE a.live AND b.live AND a.state IN ('booked', 'here') AND b.state IN ('booked', 'here'))
             + (SELECT count(*) FROM scheduling_lesson a JOIN scheduling_lesson b ON a.id < b.id
                AND a.during && b.during AND a.instructor_id = b.instructor_id WHERE a.live AND b.live)
    """
    with connection.cursor() as cursor:
        cursor.execute(pairs)
        return cursor.fetchone()[0]


def booking(client_id: UUID, apparatus_id: int, instructor_id: int, minute: int = 0) -> Any:
    def deed() -> None:
        actions.book_place(
            client_id=client_id,
            apparatus_id=apparatus_id,
            instructor_id=instructor_id,
            span=span(11, minute),
            kind=LessonKind.PRIVATE,
            by=None,
            now=NOW,
        )

    return deed


@pytest.fixture
def house():
    made = at_work.house(reformers=RACERS)
    made.teachers += [at_work.teacher(f"Teacher {number}", f"T{number}", made) for number in range(RACERS - 2)]
    return made


@pytest.fixture
def people():
    return [at_work.client(name, email=f"c{at}@mail.example") for at, name in enumerate(at_work.names()[:RACERS])]


def test_one_machine_goes_to_one_of_sixteen(house, people):
    before = deadlocks()
    machine = house.reformers[2].pk
    answers = race([booking(who.pk, machine, teacher.pk) for who, teacher in zip(people, house.teachers, strict=True)])
    assert answers.count("done") == 1, answers
    winner = models.Place.objects.get().client.name
    losers = [answer for answer in answers if answer != "done"]
    assert all(answer.startswith("machine_taken: Reformer 3 is already taken") for answer in losers), losers
    assert all(winner in answer for answer in losers)
    assert (deadlocks() - before, overlaps()) == (0, 0)


def test_one_teacher_goes_to_one_of_sixteen(house, people):
    before = deadlocks()
    teacher = house.teachers[0].pk
    answers = race([booking(who.pk, machine.pk, teacher) for who, machine in zip(people, house.reformers, strict=True)])
    assert answers.count("done") == 1, answers
    winner = models.Place.objects.get().client.name
    losers = [answer for answer in answers if answer != "done"]
    assert all(answer.startswith("instructor_taken: Iselde Ottrevane is already taken") for answer in losers), losers
    assert all(winner in answer for answer in losers)
    assert (deadlocks() - before, overlaps()) == (0, 0)


def test_crossing_wishes_for_machines_and_teachers_never_deadlock(house, people):
    """Half ask for (machine a, teacher b), half for (machine b, teacher a), at times that overlap by parts."""
    before = deadlocks()
    pairs = [(0, 1), (1, 0)] * (RACERS // 2)
    answers = race(
        [
            booking(who.pk, house.reformers[machine].pk, house.teachers[teacher].pk, minute=at % 4 * 15)
            for at, (who, (machine, teacher)) in enumerate(zip(people, pairs, strict=True))
        ]
    )
    assert not [answer for answer in answers if answer.startswith("broke")], answers
    assert answers.count("done") >= 1
    assert (deadlocks() - before, overlaps()) == (0, 0)


def test_lessons_moved_at_once_into_the_same_hour_let_one_in(house, people):
    before = deadlocks()
    places = [
        at_work.book(house, who, span(7 + at // 2 % 8, at % 2 * 5, day=at_work.DAY + timedelta(days=at // 8)),
                     machine=at, teacher=at)
        for at, who in enumerate(people)
    ]  # fmt: skip
    target, teacher = span(18), house.teachers[0].pk

    def moving(place: models.Place) -> Any:
        def deed() -> None:
            actions.move_lesson(place.lesson_id, span=target, instructor_id=teacher, by=None, now=NOW)

        return deed

    answers = race([moving(place) for place in places])
    assert answers.count("done") == 1, answers
    assert not [answer for answer in answers if answer.startswith("broke")], answers
    assert (deadlocks() - before, overlaps()) == (0, 0)


def test_sixteen_taps_on_here_and_undo_count_no_visit_twice(house, people):
    place = at_work.book(house, people[0], span(11))
    at_work.make_clients.load_reference()
    deeds = [lambda: actions.complete_place(place.pk, by=None, now=at_work.at(11, 50))] * RACERS
    answers = race(deeds)
    assert set(answers) == {"done"}
    people[0].refresh_from_db()
    assert people[0].visits == 1
