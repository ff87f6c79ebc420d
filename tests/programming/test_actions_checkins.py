"""The check-in: kept sealed, today only, fitted at once, taken back, and handed on where it has to be."""

from datetime import timedelta

import pytest
from django.db import connection

from clients.models import Review
from programming import actions, models
from programming.actions import checkins
from programming.rules.checkins import Answers, Side, Slept, Sore
from studio.models import AuditEntry
from studio.rules import Refused, Role
from tests import make
from tests import make_programming as practice
from tests.make_programming import LESSON, NOW

pytestmark = pytest.mark.django_db
WRIST = Answers((Sore("wrist", Side.LEFT),), pain=3)
MORNING = LESSON - timedelta(minutes=10)


@pytest.fixture
def program(lesson):
    return lesson.assign()


def said(lesson, answers, *, now=MORNING, by=None):
    return checkins.check_in(lesson.place.pk, answers=answers, by=by or lesson.teacher, now=now)


def standing(lesson) -> models.Program:
    return models.Program.objects.get(place=lesson.place, replaced_at=None)


def forms(program) -> list[tuple[object, ...]]:
    fit = practice.fit(program)
    rows = program.lines.order_by("position").values_list("position", "exercise_id", "decision", "reps", "spring_set")
    return [(*row, fit.of(row[0]).form, fit.of(row[0]).demands) for row in rows]


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


def test_a_sore_wrist_takes_weight_off_the_wrist_in_every_line_of_today(lesson, program):
    assert any("wrist_wb" in line.demands for line in practice.fit(program).lines.values())
    found = said(lesson, WRIST)
    fitted = standing(lesson)
    assert found.program_id == fitted.pk != program.pk
    assert fitted.today_only
    assert not any("wrist_wb" in line.demands for line in practice.fit(fitted).lines.values())


def test_the_changed_lines_say_that_the_check_in_asked_for_it(lesson, program):
    said(lesson, WRIST)
    view = practice.view(standing(lesson))
    assert view.said == "left wrist or hand; pain 3"
    conditions = {name for line in view.lines for step in line.why for name in step.conditions}
    assert "today's check-in: left wrist or hand" in conditions


def test_nothing_new_changes_nothing(lesson, program):
    found = said(lesson, Answers(slept=Slept.WELL))
    assert found.program_id == program.pk
    assert not standing(lesson).today_only
    assert not found.review_called and not found.form_asked


def test_taken_back_the_program_is_as_it_was_before(lesson, program):
    before = forms(program)
    said(lesson, WRIST)
    assert forms(standing(lesson)) != before
    checkins.take_back_check_in(lesson.place.pk, by=lesson.teacher, now=MORNING)
    assert forms(standing(lesson)) == before
    assert not standing(lesson).today_only
    assert checkins.open_check_in(lesson.place.pk, by=lesson.teacher, now=MORNING).answers is None


def test_a_second_word_replaces_the_first(lesson, program):
    said(lesson, WRIST)
    said(lesson, Answers((Sore("neck"),), pain=1))
    assert models.CheckIn.objects.filter(place=lesson.place, replaced_at=None).count() == 1
    opened = checkins.open_check_in(lesson.place.pk, by=lesson.teacher, now=MORNING)
    assert opened.answers == Answers((Sore("neck"),), pain=1)
    assert opened.by == lesson.teacher.name


def test_the_same_word_twice_fits_once(lesson, program):
    first = said(lesson, WRIST)
    again = said(lesson, WRIST)
    assert first.program_id == again.program_id
    assert models.Program.objects.count() == 2


def test_the_next_lesson_is_fitted_without_it(lesson, program):
    said(lesson, WRIST)
    later = practice.lesson(lesson.house, lesson.client, day=practice.DAY + timedelta(days=7))
    next_time = later.assign(now=MORNING)
    assert not next_time.today_only
    assert forms(next_time) == forms(program)


def test_another_template_for_the_same_lesson_keeps_to_it(lesson, program):
    said(lesson, WRIST)
    other = lesson.assign("Two places", now=MORNING)
    assert other.today_only
    assert not any("wrist_wb" in line.demands for line in practice.fit(other).lines.values())


def test_a_program_assigned_after_the_check_in_is_fitted_to_it(lesson):
    assert said(lesson, WRIST).program_id is None
    assert lesson.assign(now=MORNING).today_only


def test_no_limit_on_record_is_loosened_by_it(lesson, program):
    before = practice.fit(program).to.levels
    said(lesson, Answers((Sore("low_back"), Sore("knee")), pain=1))
    after = practice.fit(standing(lesson)).to.levels
    strict = ["avoid", "adapt", "watch"]
    assert all(strict.index(after[demand]) <= strict.index(level) for demand, level in before.items())


def test_what_was_said_stands_in_no_plain_column(lesson, program):
    said(lesson, WRIST)
    with connection.cursor() as cursor:
        cursor.execute("SELECT row_to_json(t)::text FROM programming_checkin t")
        text = "".join(row for (row,) in cursor.fetchall())
    assert "wrist" not in text


def test_each_reading_of_it_is_on_record(lesson, program):
    said(lesson, WRIST)
    checkins.open_check_in(lesson.place.pk, by=lesson.teacher, now=MORNING)
    assert AuditEntry.objects.filter(verb="check_in", client_key=lesson.client.pk).count() == 1
    assert AuditEntry.objects.filter(kind="read", verb="read_check_in", person=lesson.teacher).exists()


# --- handed on -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("pain", "called"), [(3, False), (4, True)])
def test_pain_of_four_calls_a_review_for_today(lesson, program, pain, called):
    """review_intervals.csv, immediate_pain."""
    found = said(lesson, Answers((Sore("knee", Side.LEFT),), pain=pain))
    due = Review.objects.filter(client=lesson.client, done_at=None, raised_at__isnull=False)
    assert found.review_called is called and due.exists() is called


def test_a_stop_sign_fits_nothing_and_asks_for_the_whole_form_again(lesson, program):
    found = said(lesson, Answers(signs=("chest",)))
    assert found.form_asked and found.review_called and found.program_id is None
    assert standing(lesson) == program
    assert lesson.client.screenings.get(replaced_at=None).asks_again == "full"


def test_after_a_stop_sign_the_lesson_does_not_start(lesson, program):
    said(lesson, Answers(signs=("dizzy",)))
    with pytest.raises(Refused) as refused:
        lesson.mark(program.lines.order_by("position").first().pk)
    assert codes(refused) == {"form_not_current"}


# --- refused ---------------------------------------------------------------------------------------------------------


def test_once_the_lesson_is_logged_the_word_is_kept_and_the_program_stays(lesson, program):
    lesson.mark(program.lines.exclude(decision="left_out").order_by("position").first().pk)
    found = said(lesson, WRIST, now=LESSON + timedelta(minutes=5))
    assert found.is_late and found.program_id is None
    assert standing(lesson) == program
    assert models.CheckIn.objects.filter(place=lesson.place, replaced_at=None).exists()


def test_another_day_is_refused(lesson, program):
    with pytest.raises(Refused) as refused:
        said(lesson, WRIST, now=NOW + timedelta(days=1))
    assert codes(refused) == {"not_its_day"}
    assert not models.CheckIn.objects.exists()


def test_answers_nobody_can_have_given_are_refused_and_nothing_is_kept(lesson, program):
    with pytest.raises(Refused) as refused:
        said(lesson, Answers(pain=5))
    assert codes(refused) == {"where"}
    assert not models.CheckIn.objects.exists()


def test_a_stranger_and_the_desk_keep_nothing(lesson, program):
    for person, code in ((make.person(Role.INSTRUCTOR), "say_why"), (make.person(Role.DESK), "not_open")):
        with pytest.raises(Refused) as refused:
            said(lesson, WRIST, by=person)
        assert codes(refused) == {code}
    assert not models.CheckIn.objects.exists()


def test_a_program_says_when_the_check_in_came_after_it(lesson, program):
    checkins.take_back_check_in(lesson.place.pk, by=lesson.teacher, now=MORNING)
    row = models.CheckIn(client=lesson.client, place=lesson.place, by=lesson.teacher, at=MORNING)
    row.sealed_answers = checkins.facts.sealed_answers(row, WRIST, lesson.client)
    row.save(force_insert=True)
    opened = actions.open_program(program.pk, by=lesson.teacher, now=MORNING)
    assert "The limits have changed since it was fitted." in opened.stale
