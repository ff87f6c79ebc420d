"""Two tablets at once on one lesson: one log, one mark a line, one program, one counted visit."""

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection

from clients.models import Client
from programming import actions, models
from programming.rules.marks import Mark
from studio.rules import Refused
from tests import make_programming as practice
from tests.make_programming import LESSON, NOW

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
TABLETS = 8


def at_once(act: Callable[[int], Any]) -> list[Any]:
    """What each of eight tablets got, all let go at the same moment; a refusal is an answer too."""
    gate = threading.Barrier(TABLETS)
    answers: list[Any] = [None] * TABLETS

    def tablet(number: int) -> None:
        gate.wait()
        try:
            answers[number] = act(number)
        except Refused as refused:
            answers[number] = refused
        finally:
            connection.close()

    threads = [threading.Thread(target=tablet, args=(number,)) for number in range(TABLETS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
        assert not thread.is_alive()
    return answers


def test_tablets_that_race_leave_one_program_one_log_and_one_visit():
    practice.load()
    lesson = practice.lesson(told=practice.BONES)
    names = ["Foundation order", "Two places", "Short visit", "First carriage"]
    made = at_once(lambda number: lesson.assign(names[number % len(names)], now=NOW))
    assert not [one for one in made if isinstance(one, Refused)]
    program = models.Program.objects.get(place=lesson.place, replaced_at=None)

    line = program.lines.exclude(decision="left_out").order_by("position")[0]
    marked = at_once(lambda number: lesson.mark(line.pk, list(Mark)[number % 4]))
    assert not [one for one in marked if isinstance(one, Refused)]
    log = models.Log.objects.get(place=lesson.place)
    assert log.lines.count() == 1

    finished = at_once(lambda number: actions.finish_log(log.pk, by=lesson.teacher, now=LESSON))
    assert {one.finished_at for one in finished} == {LESSON}
    assert Client.objects.get(pk=lesson.client.pk).visits == 1


def test_a_program_is_not_changed_under_a_lesson_that_begins_at_that_moment():
    practice.load()
    lesson = practice.lesson()
    program = lesson.assign()
    line = program.lines.order_by("position")[0]

    def act(number: int) -> object:
        if number % 2:
            return lesson.assign("Short visit", now=LESSON)
        return lesson.mark(line.pk)

    answers = at_once(act)
    codes = {reason.code for one in answers if isinstance(one, Refused) for reason in one.reasons}
    assert codes <= {"log_begun", "other_program"}
    log = models.Log.objects.filter(place=lesson.place).first()
    standing = models.Program.objects.get(place=lesson.place, replaced_at=None)
    assert log is None or log.program == standing
