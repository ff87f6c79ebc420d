"""The look of the night: which programs are not any more as they were fitted for, said once and taken back."""

from datetime import timedelta

import pytest

from programming import actions, models, tasks
from programming.actions import nightly
from programming.queries import floor
from scheduling import actions as scheduling_actions
from studio.models import AuditEntry
from tests import make_clients
from tests import make_programming as practice
from tests.make_programming import BONES, DAY, NOW

pytestmark = pytest.mark.django_db
NIGHT = NOW + timedelta(hours=14)


def since(program):
    return models.Program.objects.get(pk=program.pk).differs_since


def test_a_program_that_still_fits_is_left_alone(lesson):
    program = lesson.assign()
    assert nightly.compare_programs(now=NIGHT) == 0
    assert since(program) is None


def test_changed_springs_and_changed_limits_are_noted_once(lesson):
    first = lesson.assign()
    other = practice.lesson(lesson.house, practice.client("Oswin Threll"), hour=12, machine=1, teacher=1)
    second = other.assign()
    scheduling_actions.change_springs(lesson.place.apparatus_id, springs="HMML", by=None, now=NOW)
    make_clients.signed_form(other.client, BONES, signature=other.client.name, now=NOW)
    assert nightly.compare_programs(now=NIGHT) == 2
    assert nightly.compare_programs(now=NIGHT + timedelta(hours=1)) == 0
    assert (since(first), since(second)) == (NIGHT, NIGHT)


def test_what_was_changed_back_is_taken_back(lesson):
    program = lesson.assign()
    scheduling_actions.change_springs(lesson.place.apparatus_id, springs="HMML", by=None, now=NOW)
    nightly.compare_programs(now=NIGHT)
    scheduling_actions.change_springs(lesson.place.apparatus_id, springs="HHMML", by=None, now=NOW)
    assert nightly.compare_programs(now=NIGHT) == 1
    assert since(program) is None


def test_a_lesson_that_is_over_or_far_ahead_is_not_looked_at(lesson):
    program = lesson.assign()
    scheduling_actions.change_springs(lesson.place.apparatus_id, springs="HMML", by=None, now=NOW)
    assert nightly.compare_programs(now=NOW - timedelta(days=60)) == 0
    assert nightly.compare_programs(now=lesson.place.during.upper + timedelta(minutes=1)) == 0
    assert since(program) is None


def test_the_house_itself_reads_and_says_why(lesson):
    lesson.assign()
    nightly.compare_programs(now=NIGHT)
    read = AuditEntry.objects.filter(kind="read", verb="read_limits", person=None).latest("at")
    assert (read.actor, read.why) == ("the house itself", nightly.WHY)


def test_the_floor_says_that_a_program_is_to_be_fitted_again(lesson):
    program = lesson.assign()
    scheduling_actions.change_springs(lesson.place.apparatus_id, springs="HMML", by=None, now=NOW)
    nightly.compare_programs(now=NIGHT)
    (row,) = floor.floor_day(lesson.teacher, DAY, now=NIGHT).places
    assert row.to_fit_again
    actions.refit_program(program.pk, by=lesson.teacher, now=NIGHT)
    (row,) = floor.floor_day(lesson.teacher, DAY, now=NIGHT).places
    assert not row.to_fit_again


def test_the_task_runs_the_look(lesson):
    lesson.assign()
    assert tasks.compare_programs() == 0
