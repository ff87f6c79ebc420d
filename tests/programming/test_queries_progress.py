"""Progress, plan and load as they are read: what waits, what was decided, and in how many queries."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clients.models import LevelCeiling
from programming import models
from programming.actions import decisions, grants, progress, telling
from programming.rules.felt import Felt
from programming.rules.marks import Standing
from programming.rules.progress import Step
from scheduling.models import MayTeach
from studio.models import AuditEntry
from studio.rules import ApparatusKind, Refused
from tests import make_programming as practice
from tests import make_scheduling
from tests.make_programming import DAY, LESSON

pytestmark = pytest.mark.django_db
LATER = LESSON + timedelta(hours=2)
CANARY = "heron over the reeds"


@pytest.fixture
def taught(lesson):
    lesson.assign()
    return lesson.teach(score=4)


def again(lesson, days=1, *, score=4):
    other = practice.lesson(lesson.house, lesson.client, day=DAY + timedelta(days=days))
    other.assign(now=LATER)
    return other.teach(score=score)


def opened(lesson, *, now=LATER, **other):
    return progress.open_progress(lesson.client.pk, by=lesson.teacher, now=now, **other)


def steps(view) -> dict[str, Step]:
    return {one.row.exercise_id: one.proposal.step for one in (*view.waiting, *view.going_on)}


# --- progress --------------------------------------------------------------------------------------------------------


def test_whoever_never_had_a_lesson_has_an_empty_page(lesson):
    view = opened(lesson)
    assert (view.lessons, view.waiting, view.groups, view.decided) == (0, (), (), ())
    # Her teacher may sign a level all the same, for what she learned elsewhere.
    assert ApparatusKind.REFORMER in {row.check.kind for row in view.levels}


def test_after_two_clean_lessons_the_advance_waits_with_its_evidence(lesson, taught):
    again(lesson)
    view = opened(lesson, now=LATER + timedelta(days=1))
    found = next(one for one in view.waiting if one.row.exercise_id == "R-FW1")
    assert (found.proposal.step, found.row.standing, found.row.times) == (Step.ADVANCE, Standing.OWNED, 2)
    assert [entry.on for entry in found.proposal.evidence] == [DAY, DAY + timedelta(days=1)]
    # The footwork ladder's own harder forms, in its order.
    assert found.next_words.startswith("single leg, other foot on carriage edge")


def test_a_decided_exercise_leaves_the_list_until_it_is_practised_again(lesson, taught):
    decided = decisions.decide_step(
        lesson.client.pk, exercise_id="R-FW1", decided=Step.REPEAT, by=lesson.teacher, now=LATER
    )
    view = opened(lesson)
    assert "R-FW1" not in steps(view)
    assert [(one.row.exercise_id, one.decided.id) for one in view.decided] == [("R-FW1", decided.pk)]
    again(lesson)
    view = opened(lesson, now=LATER + timedelta(days=1))
    assert steps(view)["R-FW1"] is Step.ADVANCE and view.decided == ()


def test_what_was_felt_is_opened_for_the_proposal_and_the_reading_recorded(lesson, taught):
    line = taught.lines.get(program_line__exercise_id="R-FW1").program_line_id
    telling.tell_felt(taught.pk, line_id=line, felt=Felt(3), by=lesson.teacher, now=LATER)
    assert steps(opened(lesson))["R-FW1"] is Step.STEP_BACK
    kept = AuditEntry.objects.filter(kind="read", verb="open_progress", client_key=lesson.client.pk)
    assert kept.count() == 1 and kept[0].why == "care"


def test_somebody_without_care_says_why_and_the_reason_is_recorded(lesson, taught):
    stranger = make_scheduling.teacher("Wandra Bevlan", "WB", lesson.house).person
    for open_page in (progress.open_progress, progress.open_plan, progress.open_load):
        with pytest.raises(Refused) as refused:
            open_page(lesson.client.pk, by=stranger, now=LATER)
        assert [reason.code for reason in refused.value.reasons] == ["say_why"]
        open_page(lesson.client.pk, by=stranger, now=LATER, why="stands in today")
    verbs = AuditEntry.objects.filter(kind="read", person=stranger, why="stands in today")
    assert {"open_progress", "open_plan", "open_load"} <= set(verbs.values_list("verb", flat=True))


def test_levels_count_what_her_limits_leave_and_say_who_signed(lesson, taught):
    view = opened(lesson)
    reformer = next(row for row in view.levels if row.check.kind is ApparatusKind.REFORMER)
    assert (reformer.check.level, reformer.signed_on) == (2, None)
    rows = models.Exercise.objects.filter(apparatus_kind="reformer", level=2, retired_at=None).count()
    assert reformer.check.open_rows < rows
    LevelCeiling.objects.create(
        client=lesson.client, apparatus_kind="reformer", level=1, signed_by=lesson.teacher, signed_on=DAY
    )
    signed = next(row for row in opened(lesson).levels if row.check.kind is ApparatusKind.REFORMER)
    assert (signed.check.level, signed.signed_by, signed.signed_on) == (1, lesson.teacher.name, DAY)


def test_coming_back_after_a_month_is_said(lesson, taught):
    view = opened(lesson, now=LATER + timedelta(days=30))
    assert (view.back.levels_down, view.back.lessons, view.since) == (1, 1, 0)
    assert opened(lesson, now=LATER + timedelta(days=7)).back.lessons == 0


def test_what_is_unseen_for_twelve_weeks_is_paused_on_the_page_whatever_was_stored(lesson, taught):
    view = opened(lesson, now=LATER + timedelta(days=84))
    assert {row.standing for group in view.groups for row in group.rows} == {Standing.PAUSED}


def test_the_page_takes_the_same_queries_after_one_lesson_and_after_three(lesson, taught):
    def counted() -> int:
        with CaptureQueriesContext(
            connection,
        ) as found:
            opened(lesson, now=LATER + timedelta(days=6))
        return len(found)

    before = counted()
    again(lesson, 1)
    again(lesson, 4)
    assert counted() == before


def test_one_exercise_tells_every_lesson_with_what_was_felt_and_every_grant_with_its_reason(lesson, taught):
    MayTeach.objects.filter(instructor__person=lesson.teacher).update(level=5)
    line = taught.lines.get(program_line__exercise_id="R-FW1").program_line_id
    telling.tell_felt(taught.pk, line_id=line, felt=Felt(2, "sore"), by=lesson.teacher, now=LATER)
    grants.grant_exercise(
        lesson.client.pk, exercise_id="R-FW1", owned=True, reason=CANARY, by=lesson.teacher, now=LATER
    )
    found = progress.open_exercise(lesson.client.pk, "R-FW1", by=lesson.teacher, now=LATER)
    assert [(one.score, one.felt) for one in found.lessons] == [(4, "pain 2 of 10, sore afterwards")]
    assert [(one.owned, one.reason) for one in found.grants] == [(True, CANARY)]
    assert found.may_grant and found.row is not None and found.row.standing is Standing.OWNED
    assert AuditEntry.objects.filter(kind="read", verb="open_exercise").count() == 1


# --- plan over weeks -------------------------------------------------------------------------------------------------


def plan_of(lesson, *, now=LATER, back=0):
    return progress.open_plan(lesson.client.pk, by=lesson.teacher, now=now, back=back)


def row_of(view, exercise_id):
    rows = [row for group in view.groups for row in group.rows]
    return next((row for row in rows if row.exercise_id == exercise_id), None)


def test_the_plan_tells_when_each_exercise_was_introduced(lesson, taught):
    view = plan_of(lesson)
    assert len(view.weeks) == 14 and view.weeks[11] == DAY - timedelta(days=DAY.weekday())
    row = row_of(view, "R-FW1")
    assert (row.introduced_on, row.standing) == (DAY, Standing.INTRODUCED)
    assert [cell.begins for cell in row.cells].index(True) == 11
    assert [monday for monday, _ in view.introduced] == [view.weeks[11]]
    assert "Footwork: toes (heels together, small V)" in view.introduced[0][1]


def test_what_a_coming_lesson_brings_stands_ahead_as_planned(lesson):
    other = practice.lesson(lesson.house, lesson.client, day=DAY + timedelta(days=7))
    other.assign()
    row = row_of(plan_of(lesson), "R-FW1")
    assert row.introduced_on is None and [cell.is_planned for cell in row.cells].index(True) == 12
    assert row.dots[0].kind == "planned"


def test_twelve_weeks_back_are_a_page_of_their_own(lesson, taught):
    now = LATER + timedelta(weeks=13)
    assert plan_of(lesson, now=now).has_earlier
    earlier = plan_of(lesson, now=now, back=1)
    assert len(earlier.weeks) == 12 and row_of(earlier, "R-FW1").dots
    assert not earlier.has_earlier


def test_every_dot_lies_inside_the_drawing_and_no_row_upon_another(lesson, taught):
    view = plan_of(lesson)
    rows = [row for group in view.groups for row in group.rows]
    assert all(34 < dot.x < 100 for row in rows for dot in row.dots)
    places = [row.y for row in rows]
    assert places == sorted(set(places)) and max(places) < view.height
    assert all(sum(part.count for part in stack.parts) <= len(rows) for stack in view.stacks)


# --- load ------------------------------------------------------------------------------------------------------------


def load_of(lesson, *, now=LATER):
    return progress.open_load(lesson.client.pk, by=lesson.teacher, now=now)


def test_a_week_without_a_rating_asks_and_has_no_monotony(lesson, taught):
    view = load_of(lesson)
    assert [one.place_id for one in view.asked] == [lesson.place.pk]
    assert (view.now.week.unrated, view.now.week.monotony) == (1, None)


def test_the_load_of_a_lesson_is_effort_times_its_minutes(lesson, taught):
    """Session load: foster2001, read in abstract."""
    telling.rate_lesson(taught.pk, effort=6, by=lesson.teacher, now=LATER)
    view = load_of(lesson)
    assert view.lessons[0].load == 6 * 55 == view.now.week.total
    assert view.now.week.days[DAY.weekday()] == 330 and view.asked == ()


def test_after_two_weeks_nobody_is_asked_any_more(lesson, taught):
    assert load_of(lesson, now=LATER + timedelta(days=15)).asked == ()


def test_the_bars_share_the_width_and_the_highest_fills_the_height(lesson, taught):
    telling.rate_lesson(taught.pk, effort=6, by=lesson.teacher, now=LATER)
    view = load_of(lesson)
    assert len(view.week_bars) == 8 and len(view.day_bars) == 7
    assert max(bar.height for bar in view.day_bars) == 88
    assert date(2026, 3, 9) == view.now.week.monday and view.week_bars[-1].is_now
