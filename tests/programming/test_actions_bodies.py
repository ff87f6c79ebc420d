"""Body notes and waivers: kept sealed, with the way back, and taken into the next fit."""

from datetime import timedelta

import pytest
from django.db import connection

from programming import actions, models
from programming.actions import bodies, waivers
from programming.rules.bodies import BodyFacts
from studio.models import AuditEntry
from studio.rules import Refused, Role
from tests import make
from tests import make_programming as practice
from tests.make_programming import NOW

pytestmark = pytest.mark.django_db
TALL = BodyFacts(frozenset({"tall", "stiff_toes"}), stature_mm=1840, leg_mm=1150)
# Short spine asks for frog, leg circles and pelvic lift first; the level is 3.
ASKS = "R-SSP"


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


def noted(lesson, facts, *, now=NOW):
    return bodies.note_body(lesson.client.pk, facts=facts, by=lesson.teacher, now=now)


def read(lesson) -> BodyFacts:
    return bodies.read_body(lesson.client.pk, by=lesson.teacher, now=NOW)


# --- the build -------------------------------------------------------------------------------------------------------


def test_notes_and_measures_are_kept_and_the_leg_is_dated_today(lesson):
    noted(lesson, TALL)
    assert read(lesson) == BodyFacts(TALL.notes, 1840, 1150, NOW.date(), "")


def test_a_leg_that_was_not_measured_again_keeps_its_day(lesson):
    noted(lesson, TALL)
    noted(lesson, BodyFacts(stature_mm=1850, leg_mm=1150), now=NOW + timedelta(days=1))
    assert read(lesson).leg_on == NOW.date()


def test_the_same_again_changes_nothing(lesson):
    assert noted(lesson, TALL) == noted(lesson, TALL, now=NOW + timedelta(days=1))
    assert models.Body.objects.count() == 1


def test_the_notes_before_come_back(lesson):
    noted(lesson, TALL)
    noted(lesson, BodyFacts(frozenset({"short"})), now=NOW + timedelta(minutes=1))
    bodies.take_back_body(lesson.client.pk, by=lesson.teacher, now=NOW + timedelta(minutes=2))
    assert read(lesson).notes == TALL.notes
    assert models.Body.objects.filter(replaced_at=None).count() == 1


def test_no_word_of_a_body_stands_in_a_plain_column_and_each_reading_is_on_record(lesson):
    noted(lesson, TALL)
    read(lesson)
    with connection.cursor() as cursor:
        cursor.execute("SELECT row_to_json(t)::text FROM programming_body t")
        assert not any("tall" in text or "1840" in text for (text,) in cursor.fetchall())
    assert AuditEntry.objects.filter(kind="read", verb="read_body", person=lesson.teacher).exists()


def test_what_no_body_has_is_refused(lesson):
    with pytest.raises(Refused) as refused:
        noted(lesson, BodyFacts(frozenset({"tall", "short"})))
    assert codes(refused) == {"contrary"}


def test_the_desk_reads_and_writes_no_body(lesson):
    desk = make.person(Role.DESK)
    with pytest.raises(Refused) as refused:
        bodies.read_body(lesson.client.pk, by=desk, now=NOW, why="curious")
    assert codes(refused) == {"not_open"}
    with pytest.raises(Refused):
        bodies.note_body(lesson.client.pk, facts=TALL, by=desk, now=NOW, why="curious")


def test_a_program_says_when_the_notes_have_changed_since(lesson):
    program = lesson.assign()
    noted(lesson, TALL)
    assert actions.open_program(program.pk, by=lesson.teacher, now=NOW).stale == (
        "The notes of the build have changed since it was fitted.",
    )
    again = actions.refit_program(program.pk, by=lesson.teacher, now=NOW)
    assert actions.open_program(again.pk, by=lesson.teacher, now=NOW).stale == ()


# --- waivers ---------------------------------------------------------------------------------------------------------


def waived(lesson, **other):
    given = {"reason": "Tower rolling seen clean", "equivalent_id": "T-09"} | other
    return waivers.waive(lesson.client.pk, ASKS, by=lesson.teacher, now=NOW, **given)


def test_a_waiver_keeps_name_day_reason_and_equivalent(lesson):
    waived(lesson)
    (line,) = waivers.read_waivers(lesson.client.pk, by=lesson.teacher, now=NOW)
    assert (line.by, line.at, line.reason) == (lesson.teacher.name, NOW, "Tower rolling seen clean")
    assert line.exercise.startswith("Short spine") and line.equivalent


def test_a_waived_exercise_is_waived_once_and_can_be_taken_back(lesson):
    first = waived(lesson)
    assert waived(lesson) == first
    waivers.take_back_waiver(first.pk, by=lesson.teacher, now=NOW)
    assert waivers.read_waivers(lesson.client.pk, by=lesson.teacher, now=NOW) == ()
    assert waived(lesson) != first


def test_the_reason_of_a_waiver_is_sealed(lesson):
    waived(lesson)
    with connection.cursor() as cursor:
        cursor.execute("SELECT row_to_json(t)::text FROM programming_waiver t")
        assert "seen clean" not in cursor.fetchone()[0]


def test_a_program_says_when_a_waiver_came_or_went_since(lesson):
    program = lesson.assign()
    waived(lesson)
    told = actions.open_program(program.pk, by=lesson.teacher, now=NOW).stale
    assert told == ("What is waived has changed since it was fitted.",)


@pytest.mark.parametrize(
    ("other", "code"),
    [
        ({"reason": "  "}, "reason"),
        ({"reason": "x" * 301}, "reason"),
        ({"equivalent_id": ASKS}, "equivalent"),
        ({"equivalent_id": "Z-99"}, "equivalent"),
    ],
)
def test_a_waiver_without_sense_is_refused(lesson, other, code):
    with pytest.raises(Refused) as refused:
        waived(lesson, **other)
    assert codes(refused) == {code}


@pytest.mark.parametrize(("exercise", "code"), [("R-FW1", "nothing_to_waive"), ("Z-99", "unknown_exercise")])
def test_only_what_asks_for_something_first_is_waived(lesson, exercise, code):
    with pytest.raises(Refused) as refused:
        waivers.waive(lesson.client.pk, exercise, reason="seen", by=lesson.teacher, now=NOW)
    assert codes(refused) == {code}


def test_a_waived_line_is_no_finding_of_v1_any_more(lesson):
    program = practice.make_template("Spine", "R-FW1", ASKS)
    fitted = lesson.assign("Spine")
    assert program.pk == fitted.template_id
    told = actions.open_program(fitted.pk, by=lesson.teacher, now=NOW)
    waived(lesson)
    again = actions.open_program(
        actions.refit_program(fitted.pk, by=lesson.teacher, now=NOW).pk, by=lesson.teacher, now=NOW
    )
    assert not any(one.rule == "V1" for one, _ in again.findings)
    assert len(told.findings) >= len(again.findings)
