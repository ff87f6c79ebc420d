"""The log of a lesson: marked, taken back, noted, finished once; and what follows from it."""

from datetime import timedelta

import pytest
from django.db import connection

from clients.models import Client, Review
from programming import actions, models
from programming.queries import clients as known_clients
from programming.queries import logs as log_queries
from programming.rules.marks import Mark
from scheduling import actions as scheduling_actions
from scheduling.models import Place
from studio.models import AuditEntry
from studio.rules import Refused
from tests import make_programming as practice
from tests import make_scheduling
from tests.make_programming import DAY, LESSON

pytestmark = pytest.mark.django_db
CANARY = "heron over the reeds"


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


@pytest.fixture
def program(lesson):
    return lesson.assign()


def taught(program):
    return program.lines.exclude(decision="left_out").order_by("position")


def log_of(lesson):
    return models.Log.objects.get(place=lesson.place)


# --- marking ---------------------------------------------------------------------------------------------------------


def test_the_first_mark_begins_the_log_and_the_client_is_here(lesson, program):
    lesson.mark(taught(program)[0].pk)
    assert log_of(lesson).started_at == LESSON
    assert Place.objects.get(pk=lesson.place.pk).state == "here"


def test_a_mark_remembers_springs_and_repetitions_as_planned(lesson, program):
    line = taught(program)[0]
    written = lesson.mark(line.pk)
    assert (written.mark, written.reps, written.spring_set) == ("done", line.reps, line.spring_set)


def test_the_same_tap_twice_is_one_mark_and_another_word_replaces_it(lesson, program):
    line = taught(program)[0]
    lesson.mark(line.pk)
    lesson.mark(line.pk)
    lesson.mark(line.pk, Mark.FEWER)
    assert list(log_of(lesson).lines.values_list("mark", flat=True)) == ["fewer"]


def test_the_rest_is_done_as_planned_and_what_was_said_stays(lesson, program):
    first, *others = taught(program)
    lesson.mark(first.pk, Mark.FEWER)
    count = actions.mark_rest(log_of(lesson).pk, by=lesson.teacher, now=LESSON)
    assert count == len(others) > 0
    kept = dict(log_of(lesson).lines.values_list("program_line", "mark"))
    assert kept == {first.pk: "fewer"} | {line.pk: "done" for line in others}
    assert actions.mark_rest(log_of(lesson).pk, by=lesson.teacher, now=LESSON) == 0


def test_finishing_as_planned_marks_the_rest_and_twice_is_harmless(lesson, program):
    first, *others = taught(program)
    lesson.mark(first.pk, Mark.SKIPPED)
    for _ in range(2):
        log = actions.finish_as_planned(log_of(lesson).pk, by=lesson.teacher, now=LESSON)
    assert log.finished_at == LESSON
    assert sorted(log.lines.values_list("mark", flat=True)) == ["done"] * len(others) + ["skipped"]


def test_undo_takes_the_mark_away_and_twice_is_harmless(lesson, program):
    line = taught(program)[0]
    lesson.mark(line.pk)
    for _ in range(2):
        actions.undo_line(log_of(lesson).pk, line_id=line.pk, by=lesson.teacher, now=LESSON)
    assert not log_of(lesson).lines.exists()


def test_a_score_is_added_to_a_mark(lesson, program):
    line = taught(program)[0]
    lesson.mark(line.pk)
    actions.score_line(log_of(lesson).pk, line_id=line.pk, score=4, by=lesson.teacher, now=LESSON)
    assert log_of(lesson).lines.get().score == 4


def test_a_skipped_line_has_no_score(lesson, program):
    line = taught(program)[0]
    lesson.mark(line.pk, Mark.SKIPPED)
    with pytest.raises(Refused) as refused:
        actions.score_line(log_of(lesson).pk, line_id=line.pk, score=4, by=lesson.teacher, now=LESSON)
    assert codes(refused) == {"no_mark"}


def test_every_mark_and_every_undo_leaves_an_audit_row(lesson, program):
    line = taught(program)[0]
    lesson.mark(line.pk)
    actions.undo_line(log_of(lesson).pk, line_id=line.pk, by=lesson.teacher, now=LESSON)
    verbs = AuditEntry.objects.filter(client_key=lesson.client.pk).values_list("verb", flat=True)
    assert {"open_log", "mark_line", "undo_line"} <= set(verbs)


# --- refused ---------------------------------------------------------------------------------------------------------


def test_a_line_of_another_program_is_refused(lesson, program):
    other = practice.lesson(lesson.house, practice.client("Oswin Threll"), hour=12)
    foreign = other.assign().lines.first()
    with pytest.raises(Refused) as refused:
        lesson.mark(foreign.pk)
    assert codes(refused) == {"other_program"}


def test_a_line_that_was_left_out_is_refused(lesson):
    practice.make_clients.signed_form(lesson.client, practice.MANY, now=practice.NOW)
    program = lesson.assign(practice.reformer_rows().name, minutes=240)
    with pytest.raises(Refused) as refused:
        lesson.mark(program.lines.filter(decision="left_out")[0].pk)
    assert codes(refused) == {"left_out"}


def test_a_lesson_without_a_program_is_refused(lesson):
    with pytest.raises(Refused) as refused:
        actions.open_log(lesson.place.pk, by=lesson.teacher, now=LESSON)
    assert codes(refused) == {"no_program"}


def test_another_teacher_is_refused(lesson, program):
    with pytest.raises(Refused) as refused:
        actions.mark_place_line(
            lesson.place.pk,
            line_id=taught(program)[0].pk,
            mark=Mark.DONE,
            by=lesson.house.teachers[1].person,
            now=LESSON,
        )
    assert codes(refused) == {"not_hers"}


def test_a_log_cannot_begin_days_before_its_lesson(lesson, program):
    with pytest.raises(Refused) as refused:
        lesson.mark(taught(program)[0].pk, now=LESSON - timedelta(days=1))
    assert codes(refused) == {"too_early"}
    assert Place.objects.get(pk=lesson.place.pk).state == "booked"


def test_a_lesson_does_not_start_while_the_form_is_not_current(lesson, program):
    lesson.client.screenings.update(valid_until=DAY - timedelta(days=1))
    with pytest.raises(Refused) as refused:
        lesson.mark(taught(program)[0].pk)
    assert codes(refused) == {"form_not_current"}


@pytest.mark.parametrize("numbers", [{"score": 6}, {"score": -1}])
def test_a_score_that_is_no_score_is_refused(lesson, program, numbers):
    with pytest.raises(Refused) as refused:
        lesson.mark(taught(program)[0].pk, **numbers)
    assert codes(refused) == {"score"}


# --- notes -----------------------------------------------------------------------------------------------------------


def test_a_note_is_read_back_by_her_teacher_and_the_reading_is_on_record(lesson, program):
    lesson.mark(taught(program)[0].pk)
    actions.note_log(log_of(lesson).pk, note=CANARY, by=lesson.teacher, now=LESSON)
    assert actions.read_note(log_of(lesson).pk, by=lesson.teacher, now=LESSON) == CANARY
    assert AuditEntry.objects.filter(kind="read", verb="read_note", person=lesson.teacher).count() == 1


def test_a_note_is_sealed_in_the_tables(lesson, program):
    """Every row of every table of the database as text: the words of a note are in none of them."""
    line = taught(program)[0]
    lesson.mark(line.pk)
    log = log_of(lesson)
    actions.note_log(log.pk, note=CANARY, by=lesson.teacher, now=LESSON)
    actions.note_log(log.pk, note=CANARY, by=lesson.teacher, now=LESSON, line_id=line.pk)
    assert log.lines.get().sealed_note
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names():
            cursor.execute(f'SELECT count(*) FROM "{table}" AS row WHERE row::text LIKE %s', [f"%{CANARY}%"])
            assert cursor.fetchone() == (0,), table
            cursor.execute(
                f'SELECT count(*) FROM "{table}" AS row WHERE row::text LIKE %s', [f"%{CANARY.encode().hex()}%"]
            )
            assert cursor.fetchone() == (0,), table


def test_an_empty_note_takes_it_away(lesson, program):
    lesson.mark(taught(program)[0].pk)
    for words in (CANARY, "  "):
        actions.note_log(log_of(lesson).pk, note=words, by=lesson.teacher, now=LESSON)
    assert log_of(lesson).sealed_note is None


def test_a_note_that_is_too_long_is_refused(lesson, program):
    lesson.mark(taught(program)[0].pk)
    with pytest.raises(Refused) as refused:
        actions.note_log(log_of(lesson).pk, note="x" * 2001, by=lesson.teacher, now=LESSON)
    assert codes(refused) == {"note_too_long"}


# --- finishing -------------------------------------------------------------------------------------------------------


def test_finishing_counts_the_visit_once_and_dates_the_reviews(lesson, program):
    log = lesson.teach()
    actions.finish_log(log.pk, by=lesson.teacher, now=LESSON + timedelta(hours=2))
    client = Client.objects.get(pk=lesson.client.pk)
    assert (client.visits, client.last_visit) == (1, DAY)
    assert log.finished_at == LESSON + timedelta(minutes=30)
    # Six weeks and twelve weeks on: review_intervals of the reference (common practice, no source).
    due = dict(Review.objects.filter(client=client).values_list("kind", "due_on"))
    assert due == {"short_review": DAY + timedelta(days=42), "full_reassessment": DAY + timedelta(days=84)}
    assert [review.visits_left for review in known_clients.reviews_of(client.pk, on=DAY)] == [6, 12]


def test_undoing_the_place_takes_the_visit_back(lesson, program):
    lesson.teach()
    scheduling_actions.undo_place(lesson.place.pk, by=None, now=LESSON + timedelta(hours=1))
    assert Client.objects.get(pk=lesson.client.pk).visits == 0


def test_a_finished_log_takes_no_more_marks(lesson, program):
    log = lesson.teach()
    line = taught(program)[0]
    for act in (
        lambda: lesson.mark(line.pk, Mark.SKIPPED),
        lambda: actions.undo_line(log.pk, line_id=line.pk, by=lesson.teacher, now=LESSON),
        lambda: actions.note_log(log.pk, note="late", by=lesson.teacher, now=LESSON),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert codes(refused) == {"log_finished"}
    assert log.lines.get(program_line=line).mark == "done"


def test_a_log_without_a_mark_is_not_finished(lesson, program):
    log = actions.open_log(lesson.place.pk, by=lesson.teacher, now=LESSON)
    with pytest.raises(Refused) as refused:
        actions.finish_log(log.pk, by=lesson.teacher, now=LESSON)
    assert codes(refused) == {"nothing_marked"}
    assert Client.objects.get(pk=lesson.client.pk).visits == 0


def test_an_exercise_is_owned_after_two_clean_lessons_running(lesson, program):
    """4 or better in two lessons running: programs, sections 2 and 10 (common practice, no source)."""
    lesson.teach(score=4)
    first = models.Ownership.objects.filter(client=lesson.client)
    assert first.exists()
    assert set(first.values_list("standing", flat=True)) == {"introduced"}
    second = practice.lesson(lesson.house, lesson.client, day=DAY + timedelta(days=1))
    second.assign(now=LESSON + timedelta(hours=3))
    second.teach(score=4)
    standings = dict(models.Ownership.objects.filter(client=lesson.client).values_list("exercise_id", "standing"))
    assert standings["R-FW1"] == "owned"
    assert known_clients.known_by(lesson.client.pk).owned >= {"R-FW1"}


def test_a_skipped_exercise_is_not_met(lesson, program):
    line = taught(program)[0]
    lesson.mark(line.pk, Mark.SKIPPED)
    actions.finish_log(log_of(lesson).pk, by=lesson.teacher, now=LESSON)
    assert not models.Ownership.objects.filter(client=lesson.client).exists()


def test_the_next_brief_tells_what_did_not_go_as_planned(lesson, program):
    line = taught(program)[1]
    lesson.mark(line.pk, Mark.CHANGED)
    actions.note_log(log_of(lesson).pk, note=CANARY, by=lesson.teacher, now=LESSON)
    lesson.teach(score=5)
    told = log_queries.last_lesson(lesson.client.pk, before=LESSON + timedelta(days=1))
    assert told is not None and told.on == DAY and told.has_note
    other = practice.lesson(lesson.house, lesson.client, day=DAY + timedelta(days=1))
    brief = actions.open_brief(other.place.pk, by=lesson.teacher, now=LESSON + timedelta(hours=1))
    assert (brief.note, brief.lesson_no) == (CANARY, 2)
    assert AuditEntry.objects.filter(verb="read_brief", person=lesson.teacher).exists()


def test_a_brief_of_somebody_elses_client_asks_why(lesson):
    stranger = make_scheduling.teacher("Wandra Bevlan", "WB", lesson.house).person
    with pytest.raises(Refused) as refused:
        actions.open_brief(lesson.place.pk, by=stranger, now=LESSON)
    assert codes(refused) == {"say_why"}
    assert actions.open_brief(lesson.place.pk, by=stranger, now=LESSON, why="stands in today").health.limits


# --- opened again ----------------------------------------------------------------------------------------------------


def test_a_finished_log_is_opened_again_the_same_day_and_all_that_followed_goes_back(lesson, program):
    log = lesson.teach(score=4)
    actions.reopen_log(log.pk, by=lesson.teacher, now=LESSON + timedelta(hours=1))
    assert Client.objects.get(pk=lesson.client.pk).visits == 0
    assert not models.Ownership.objects.filter(client=lesson.client).exists()
    lesson.mark(taught(program)[0].pk, Mark.SKIPPED)
    actions.finish_log(log.pk, by=lesson.teacher, now=LESSON + timedelta(hours=2))
    assert Client.objects.get(pk=lesson.client.pk).visits == 1
    assert "R-FW1" not in models.Ownership.objects.values_list("exercise_id", flat=True)


def test_opening_a_log_again_is_harmless_twice_and_refused_the_day_after(lesson, program):
    log = lesson.teach()
    with pytest.raises(Refused) as refused:
        actions.reopen_log(log.pk, by=lesson.teacher, now=LESSON + timedelta(days=1))
    assert codes(refused) == {"another_day"}
    for _ in range(2):
        reopened = actions.reopen_log(log.pk, by=lesson.teacher, now=LESSON + timedelta(hours=1))
    assert reopened.finished_at is None
    assert Client.objects.get(pk=lesson.client.pk).visits == 0


def test_a_lesson_counts_on_the_day_it_was_given_not_on_the_day_it_was_written_down(lesson, program):
    lesson.teach(score=4, now=LESSON + timedelta(days=2))
    assert set(models.Ownership.objects.values_list("introduced_on", "last_on")) == {(DAY, DAY)}
