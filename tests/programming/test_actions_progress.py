"""What is told of a lesson, decided of an exercise, granted and signed; each with its way back."""

from datetime import timedelta

import pytest

from clients.models import LevelCeiling, Review
from programming import actions, models
from programming.actions import decisions, grants, levels, telling
from programming.queries import histories
from programming.rules.felt import Felt
from programming.rules.marks import Mark
from programming.rules.progress import Step
from scheduling.models import MayTeach
from studio.models import AuditEntry
from studio.rules import ApparatusKind, Refused
from tests import make_programming as practice
from tests import make_scheduling
from tests.make_programming import DAY, LESSON

pytestmark = pytest.mark.django_db
KIND = ApparatusKind.REFORMER
LATER = LESSON + timedelta(hours=2)


def codes(refused) -> list[str]:
    return [reason.code for reason in refused.value.reasons]


@pytest.fixture
def taught(lesson):
    """A lesson finished with a score of 4 on every line."""
    lesson.assign()
    return lesson.teach(score=4)


@pytest.fixture
def senior(lesson):
    MayTeach.objects.filter(instructor__person=lesson.teacher).update(level=5)
    return lesson.teacher


def line_of(log, exercise_id="R-FW1"):
    return log.lines.get(program_line__exercise_id=exercise_id)


def feel(log, felt, *, by, now=LATER, exercise_id="R-FW1"):
    line = line_of(log, exercise_id).program_line_id
    return telling.tell_felt(log.pk, line_id=line, felt=felt, by=by, now=now)


def again(lesson, days=1, *, score=4):
    """The next lesson of the same client, taught."""
    other = practice.lesson(lesson.house, lesson.client, day=DAY + timedelta(days=days))
    other.assign(now=LATER)
    return other.teach(score=score)


def standing_of(lesson, exercise_id="R-FW1"):
    row = models.Ownership.objects.filter(client=lesson.client, exercise_id=exercise_id).first()
    return row.standing if row else None


def step(lesson, decided, *, by=None, now=LATER):
    return decisions.decide_step(
        lesson.client.pk, exercise_id="R-FW1", decided=decided, by=by or lesson.teacher, now=now
    )


# --- what was felt ---------------------------------------------------------------------------------------------------


def test_what_was_felt_is_kept_sealed_and_read_back_on_record(lesson, taught):
    line = feel(taught, Felt(2, "pinching"), by=lesson.teacher)
    assert b"pinching" not in bytes(line.sealed_felt)
    read = telling.read_felt(taught.pk, line_id=line.program_line_id, by=lesson.teacher, now=LATER)
    assert read == Felt(2, "pinching")
    assert AuditEntry.objects.filter(kind="read", verb="read_felt", person=lesson.teacher).count() == 1


def test_nothing_felt_takes_it_away(lesson, taught):
    feel(taught, Felt(2), by=lesson.teacher)
    assert feel(taught, Felt(0), by=lesson.teacher).sealed_felt is None
    line = line_of(taught).program_line_id
    assert telling.read_felt(taught.pk, line_id=line, by=lesson.teacher, now=LATER).is_nothing


def test_that_it_lasted_is_told_from_the_day_after_on(lesson, taught):
    with pytest.raises(Refused) as refused:
        feel(taught, Felt(2, lasting=True), by=lesson.teacher)
    assert codes(refused) == ["too_early"]
    line = feel(taught, Felt(2, lasting=True), by=lesson.teacher, now=LATER + timedelta(days=1))
    assert line.sealed_felt


def test_a_line_without_a_mark_has_nothing_felt(lesson):
    program = lesson.assign()
    first, second = program.lines.order_by("position")[:2]
    log = lesson.mark(first.pk).log
    with pytest.raises(Refused) as refused:
        telling.tell_felt(log.pk, line_id=second.pk, felt=Felt(2), by=lesson.teacher, now=LESSON)
    assert codes(refused) == ["no_mark"]


def test_another_teacher_neither_tells_nor_reads_what_was_felt(lesson, taught):
    other, line = lesson.house.teachers[1].person, line_of(taught).program_line_id
    for act in (
        lambda: feel(taught, Felt(2), by=other),
        lambda: telling.read_felt(taught.pk, line_id=line, by=other, now=LATER),
        lambda: telling.rate_lesson(taught.pk, effort=4, by=other, now=LATER),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert codes(refused) == ["not_hers"]


def test_pain_of_four_calls_the_short_review_for_today_once(lesson, taught):
    """At once at pain of 4 or more: programs, section 11 (common practice, no source)."""
    open_review = Review.objects.get(client=lesson.client, kind="short_review", done_at=None)
    assert open_review.raised_at is None
    for _ in range(2):
        feel(taught, Felt(4), by=lesson.teacher)
    called = Review.objects.get(client=lesson.client, kind="short_review", done_at=None)
    assert (called.pk, called.due_on, called.raised_at) == (open_review.pk, DAY, LATER)
    assert AuditEntry.objects.filter(verb="call_review", client_key=lesson.client.pk).count() == 1


def test_pain_of_three_calls_none(lesson, taught):
    feel(taught, Felt(3), by=lesson.teacher)
    assert not Review.objects.filter(client=lesson.client, raised_at__isnull=False).exists()


# --- how hard the lesson felt ----------------------------------------------------------------------------------------


def test_a_finished_lesson_is_rated_and_the_number_taken_back(lesson, taught):
    rated = telling.rate_lesson(taught.pk, effort=6, by=lesson.teacher, now=LATER)
    assert (rated.effort, rated.effort_at) == (6, LATER)
    back = telling.take_back_effort(taught.pk, by=lesson.teacher, now=LATER)
    assert (back.effort, back.effort_at) == (None, None)


@pytest.mark.parametrize(("effort", "days", "code"), [(11, 0, "effort"), (-1, 0, "effort"), (5, 15, "too_late")])
def test_what_is_no_effort_or_comes_after_two_weeks_is_refused(lesson, taught, effort, days, code):
    """Answers are stable up to 14 days: foster2021, read in abstract."""
    with pytest.raises(Refused) as refused:
        telling.rate_lesson(taught.pk, effort=effort, by=lesson.teacher, now=LATER + timedelta(days=days))
    assert codes(refused) == [code]


def test_a_lesson_that_is_not_over_is_not_rated(lesson):
    log = lesson.mark(lesson.assign().lines.order_by("position")[0].pk).log
    with pytest.raises(Refused) as refused:
        telling.rate_lesson(log.pk, effort=5, by=lesson.teacher, now=LESSON)
    assert codes(refused) == ["not_finished"]


# --- decisions -------------------------------------------------------------------------------------------------------


def test_a_decision_keeps_what_was_proposed_beside_it(lesson, taught):
    again(lesson)
    after = LATER + timedelta(days=1)
    assert (step(lesson, Step.REPEAT, now=after).proposed) == "advance"


def test_what_was_felt_turns_the_proposal_and_opening_it_is_on_record(lesson, taught):
    log = again(lesson)
    after = LATER + timedelta(days=1)
    feel(log, Felt(3), by=lesson.teacher, now=after)
    assert step(lesson, Step.STEP_BACK, now=after).proposed == "step_back"
    assert AuditEntry.objects.filter(kind="read", verb="read_felts", person=lesson.teacher).exists()


def test_a_decision_stands_until_the_next_lesson_and_is_taken_back(lesson, taught):
    first = step(lesson, Step.REPEAT)
    with pytest.raises(Refused) as refused:
        step(lesson, Step.ADVANCE)
    assert codes(refused) == ["nothing_to_decide"]
    for _ in range(2):
        decisions.take_back_step(first.pk, by=lesson.teacher, now=LATER)
    assert step(lesson, Step.ADVANCE).decided == "advance"


def test_after_an_advance_the_runs_begin_anew_and_after_a_repeat_they_go_on(lesson, taught):
    advanced = step(lesson, Step.ADVANCE)
    again(lesson)
    after = LATER + timedelta(days=1)
    assert step(lesson, Step.REPEAT, now=after).proposed == "repeat"
    models.StepDecision.objects.all().delete()
    models.StepDecision.objects.create(
        client=lesson.client, exercise_id="R-FW1", proposed="repeat", decided="repeat", by=None, at=advanced.at
    )
    assert step(lesson, Step.REPEAT, now=after).proposed == "advance"


def test_an_exercise_nobody_practised_has_nothing_to_decide(lesson, taught):
    with pytest.raises(Refused) as refused:
        decisions.decide_step(lesson.client.pk, exercise_id="M-33", decided=Step.ADVANCE, by=lesson.teacher, now=LATER)
    assert codes(refused) == ["nothing_to_decide"]


def test_somebody_who_does_not_teach_her_says_why_before_deciding(lesson, taught):
    stranger = make_scheduling.teacher("Wandra Bevlan", "WB", lesson.house).person
    with pytest.raises(Refused) as refused:
        step(lesson, Step.ADVANCE, by=stranger)
    assert codes(refused) == ["say_why"]


# --- grants ----------------------------------------------------------------------------------------------------------


def grant(lesson, owned, by, reason="seen in her old studio", now=LATER):
    return grants.grant_exercise(lesson.client.pk, exercise_id="R-FW1", owned=owned, reason=reason, by=by, now=now)


def test_a_senior_teacher_grants_an_exercise_and_takes_the_word_back(lesson, senior):
    given = grant(lesson, True, senior)
    assert standing_of(lesson) == "owned"
    assert b"old studio" not in bytes(given.sealed_reason)
    for _ in range(2):
        grants.take_back_grant(given.pk, by=senior, now=LATER)
    assert standing_of(lesson) is None


def test_a_withdrawal_outweighs_the_log_until_the_log_speaks_again(lesson, taught, senior):
    again(lesson)
    assert standing_of(lesson) == "owned"
    grant(lesson, False, senior, now=LATER + timedelta(days=1))
    assert standing_of(lesson) == "working"
    again(lesson, 4)
    again(lesson, 5)
    assert standing_of(lesson) == "owned"


def test_a_grant_stays_through_the_next_lessons(lesson, senior):
    grant(lesson, True, senior, now=LESSON - timedelta(days=2))
    lesson.assign()
    lesson.teach(score=3)
    assert standing_of(lesson) == "owned"


def test_a_grant_asks_for_a_reason_and_for_a_senior_teacher(lesson, senior):
    with pytest.raises(Refused) as refused:
        grant(lesson, True, senior, reason="  ")
    assert codes(refused) == ["missing"]
    with pytest.raises(Refused) as refused:
        grant(lesson, True, senior, reason="x" * 301)
    assert codes(refused) == ["too_long"]
    MayTeach.objects.filter(instructor__person=senior).update(level=3)
    with pytest.raises(Refused) as refused:
        grant(lesson, True, senior)
    assert codes(refused) == ["not_senior"]


# --- levels ----------------------------------------------------------------------------------------------------------


def sign(lesson, by, level, **other):
    return levels.sign_level(lesson.client.pk, kind=KIND, level=level, by=by, now=LATER, **other)


def test_a_level_is_signed_with_a_reason_before_the_log_speaks_for_it(lesson, senior):
    with pytest.raises(Refused) as refused:
        sign(lesson, senior, 3)
    assert codes(refused) == ["not_yet", "transitions"]
    signed = sign(lesson, senior, 3, reason="eight years elsewhere")
    assert (signed.level, signed.signed_by_id, signed.signed_on) == (3, senior.pk, DAY)
    kept = AuditEntry.objects.get(verb="level_signed")
    assert (kept.why, kept.detail["from"], kept.detail["to"]) == ("eight years elsewhere", 2, 3)


def test_the_next_level_is_signed_when_the_log_shows_the_one_below(lesson, senior):
    """All rows of level 1 that her bones leave open, scored 4: programs, section 10 (common practice, no source)."""
    LevelCeiling.objects.create(client=lesson.client, apparatus_kind=KIND, level=1, signed_by=senior, signed_on=DAY)
    ids = models.Exercise.objects.filter(apparatus_kind=KIND, level=1, retired_at=None).order_by("order_in_apparatus")
    template = practice.make_template("All of level one", *ids.values_list("pk", flat=True), minutes=240)
    lesson.assign(template.name, minutes=240)
    with pytest.raises(Refused) as refused:
        sign(lesson, senior, 2, flows=True)
    assert codes(refused) == ["not_yet"]
    lesson.teach(score=4)
    assert sign(lesson, senior, 2, flows=True).level == 2


def test_a_level_above_what_a_teacher_teaches_is_not_hers_to_sign(lesson):
    MayTeach.objects.filter(instructor__person=lesson.teacher).update(level=2)
    with pytest.raises(Refused) as refused:
        sign(lesson, lesson.teacher, 3, reason="years elsewhere")
    assert codes(refused) == ["not_cleared"]


def test_skipped_lines_and_changed_forms_give_no_score_to_sign_by(lesson):
    program = lesson.assign()
    first, second, third = program.lines.exclude(decision="left_out").order_by("position")[:3]
    lesson.mark(first.pk, Mark.SKIPPED)
    lesson.mark(second.pk, Mark.CHANGED, score=5)
    lesson.mark(third.pk, score=3)
    actions.finish_log(models.Log.objects.get(place=lesson.place).pk, by=lesson.teacher, now=LESSON)
    assert histories.last_scores(histories.histories(lesson.client.pk)) == {third.exercise_id: 3}
