"""Changing one line by hand, and accepting a new fit line by line: what is allowed and what stays."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from clients import actions as client_actions
from programming import actions, models
from programming.actions import bodies, by_hand, checkins, differences, waivers
from programming.queries import repertoire
from programming.rules.bodies import BodyFacts
from programming.rules.checkins import Answers, Side, Sore
from scheduling import actions as scheduling_actions
from studio.rules import Refused
from tests import make_clients, make_scheduling
from tests import make_programming as practice
from tests.conftest import logged_in
from tests.make_programming import LESSON, MANY, NOW

pytestmark = pytest.mark.django_db
MORNING = LESSON - timedelta(minutes=10)


@pytest.fixture
def program(lesson):
    return lesson.assign()


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


def line_of(program, exercise: str):
    return program.lines.get(planned_id=exercise)


def opened(lesson, program, exercise: str) -> by_hand.OpenLine:
    return by_hand.open_line(program.pk, line_of(program, exercise).pk, by=lesson.teacher, now=NOW)


def changed(lesson, program, exercise: str, choice: str, *, revision: int = 0, reps: int | None = None):
    line = line_of(program, exercise).pk
    return by_hand.change_line(
        program.pk, line, choice=choice, revision=revision, by=lesson.teacher, now=NOW, reps=reps
    )


def rows(program) -> list[tuple[object, ...]]:
    names = ("position", "planned_id", "exercise_id", "decision", "spring_set", "reps", "seconds")
    return list(program.lines.order_by("position").values_list(*names))


def avoided(lesson) -> set[str]:
    to = practice.fit(models.Program.objects.get(place=lesson.place, replaced_at=None)).to
    assert to is not None
    return {demand for demand, level in to.levels.items() if level == "avoid"}


# --- by hand ---------------------------------------------------------------------------------------------------------


def test_what_is_offered_is_allowed_and_what_stands_is_marked(lesson, program):
    for line in program.lines.order_by("position")[:8]:
        found = by_hand.open_line(program.pk, line.pk, by=lesson.teacher, now=NOW)
        assert sum(one.is_now for one in found.choices) == 1
        assert found.choices[-1].key == "out"


def test_no_choice_brings_an_avoided_demand(lesson, program):
    for line in list(program.lines.order_by("position")):
        found = by_hand.open_line(program.pk, line.pk, by=lesson.teacher, now=NOW)
        for one in found.choices[:3]:
            row = models.Program.objects.get(pk=program.pk)
            by_hand.change_line(program.pk, line.pk, choice=one.key, revision=row.revision, by=lesson.teacher, now=NOW)
            assert not avoided(lesson) & practice.fit(program).of(line.position).demands


def test_a_line_is_left_out_and_put_back(lesson, program):
    before = rows(program)
    was = next(one.key for one in opened(lesson, program, "R-FRO").choices if one.is_now)
    changed(lesson, program, "R-FRO", "out")
    line = line_of(program, "R-FRO")
    assert (line.decision, line.exercise_id, line.seconds) == ("left_out", None, 0)
    assert practice.fit(program).of(line.position).by_hand == lesson.teacher.name
    changed(lesson, program, "R-FRO", was, revision=1)
    assert rows(program) == before


def test_another_count_changes_the_time_and_nothing_else(lesson, program):
    line = line_of(program, "R-FRO")
    key = next(one.key for one in opened(lesson, program, "R-FRO").choices if one.is_now)
    before = [row for row in rows(program) if row[0] != line.position]
    changed(lesson, program, "R-FRO", key, reps=4)
    after = line_of(program, "R-FRO")
    assert after.reps == 4 and after.seconds < line.seconds
    assert [row for row in rows(program) if row[0] != line.position] == before


def test_chosen_already_nothing_changes(lesson, program):
    key = next(one.key for one in opened(lesson, program, "R-FRO").choices if one.is_now)
    assert changed(lesson, program, "R-FRO", key).revision == 0


def test_the_twist_left_out_gives_its_repetitions_back(lesson):
    """pool_rules.csv, SM3: reach and twist share ten; without the twist the reach has ten."""
    practice.make_template("Massage", "R-SM1", "R-SM2", "R-SM3", "R-SM4")
    other = practice.lesson(lesson.house, practice.client("Oswin Threll"), hour=12)
    client_actions.sign_level(other.client.pk, kind="reformer", level=5, by=other.teacher, now=NOW)
    for key in ("R-SM1", "R-SM2", "R-SM3", "R-SM4"):
        if repertoire.exercises()[key].prerequisites:
            waivers.waive(other.client.pk, key, reason="seen", by=other.teacher, now=NOW)
    program = other.assign("Massage")
    assert line_of(program, "R-SM4").exercise_id == "R-SM4"
    changed(other, program, "R-SM4", "out")
    assert line_of(program, "R-SM3").reps == 10


def test_a_line_that_may_not_be_done_any_more_says_so(teacher, lesson, program):
    make_clients.signed_form(lesson.client, MANY, now=NOW)
    must = next(one for one in compared(lesson, program).lines if "avoided" in one.why_not)
    line = program.lines.get(position=must.position)
    assert not by_hand.open_line(program.pk, line.pk, by=lesson.teacher, now=NOW).may_stay
    assert "may not be done any more" in teacher.get(address("program-line", program.pk, line.pk)).content.decode()


def test_what_is_not_offered_is_refused(lesson, program):
    with pytest.raises(Refused) as refused:
        changed(lesson, program, "R-FRO", "R-SSP~plain")
    assert codes(refused) == {"not_allowed"}


@pytest.mark.parametrize("reps", [0, 61])
def test_a_count_nobody_does_is_refused(lesson, program, reps):
    with pytest.raises(Refused) as refused:
        changed(lesson, program, "R-FRO", "R-FRO~plain", reps=reps)
    assert codes(refused) == {"reps"}


def test_two_teachers_at_one_program_lose_nothing(lesson, program):
    changed(lesson, program, "R-FRO", "out")
    with pytest.raises(Refused) as refused:
        changed(lesson, program, "R-LEG", "out", revision=0)
    assert codes(refused) == {"changed_meanwhile"}
    assert line_of(program, "R-FRO").exercise_id is None
    assert line_of(program, "R-LEG").exercise_id is not None


def test_a_program_that_is_taught_or_replaced_stays(lesson, program):
    lesson.mark(program.lines.exclude(decision="left_out").order_by("position").first().pk)
    with pytest.raises(Refused) as refused:
        changed(lesson, program, "R-FRO", "out")
    assert codes(refused) == {"log_begun"}


# --- line by line ----------------------------------------------------------------------------------------------------


def compared(lesson, program, *, now=NOW) -> differences.Comparison:
    return differences.compare_program(program.pk, by=lesson.teacher, now=now)


def accepted(lesson, program, positions, *, revision: int = 0, now=NOW) -> models.Program:
    return differences.accept_differences(program.pk, accepted=positions, revision=revision, by=lesson.teacher, now=now)


def test_a_program_that_still_fits_has_no_difference(lesson, program):
    found = compared(lesson, program)
    assert (found.stale, found.lines, found.springs) == ((), (), 0)
    assert accepted(lesson, program, []) == program


def test_taking_every_new_line_is_the_same_as_fitting_again(lesson, program):
    make_clients.signed_form(lesson.client, MANY, now=NOW)
    found = compared(lesson, program)
    assert found.lines and "limits have changed" in found.stale[0]
    kept = accepted(lesson, program, [one.position for one in found.lines])
    mixed = rows(kept)
    again = actions.refit_program(kept.pk, by=lesson.teacher, now=NOW + timedelta(minutes=1))
    assert rows(again) == mixed


def test_an_old_line_that_is_not_allowed_now_may_not_stay(lesson, program):
    make_clients.signed_form(lesson.client, MANY, now=NOW)
    must = [one.position for one in compared(lesson, program).lines if one.why_not]
    assert must
    kept = accepted(lesson, program, [])
    fit = practice.fit(kept)
    assert not any("wrist_wb" in fit.of(position).demands for position in must)
    assert not [line for line in fit.lines.values() if avoided(lesson) & line.demands]


def test_an_old_line_that_is_allowed_stays_when_the_new_one_is_not_taken(lesson, program):
    said = Answers((Sore("wrist", Side.LEFT),), pain=4)
    done = checkins.check_in(lesson.place.pk, answers=said, by=lesson.teacher, now=MORNING)
    strict = models.Program.objects.get(pk=done.program_id)
    models.CheckIn.objects.update(replaced_at=MORNING)
    found = compared(lesson, strict, now=MORNING)
    free = [one for one in found.lines if not one.why_not]
    assert len(free) > 1
    before = {line.position: line.exercise_id for line in strict.lines.all()}
    kept = accepted(lesson, strict, [free[0].position], now=MORNING)
    after = {line.position: line.exercise_id for line in kept.lines.all()}
    for one in free[1:]:
        assert after[one.position] == before[one.position]
    assert actions.open_program(kept.pk, by=lesson.teacher, now=MORNING).stale == ()


def test_accepting_twice_changes_nothing_more(lesson, program):
    make_clients.signed_form(lesson.client, MANY, now=NOW)
    once = accepted(lesson, program, [one.position for one in compared(lesson, program).lines])
    assert accepted(lesson, once, []) == once


def test_another_machine_sets_other_springs_whatever_is_accepted(lesson, program):
    other = make_scheduling.machine(lesson.house.studio, lesson.house.room, "Reformer 9", springs="MMLLL")
    scheduling_actions.move_lesson(
        lesson.place.lesson_id, span=practice.span(10, 15), apparatus={lesson.place.pk: other.pk}, by=None, now=NOW
    )
    assert compared(lesson, program).springs > 0
    kept = accepted(lesson, program, [])
    assert kept.apparatus == other
    assert all(set(line.spring_set) <= set("ML") for line in kept.lines.filter(exercise__apparatus_kind="reformer"))


def test_a_line_chosen_by_hand_stays_through_a_new_fit_unless_the_new_one_is_taken(lesson, program):
    changed(lesson, program, "R-FRO", "out")
    bodies.note_body(lesson.client.pk, facts=BodyFacts(frozenset({"tall"})), by=lesson.teacher, now=NOW)
    kept = accepted(lesson, program, [], revision=1)
    line = line_of(kept, "R-FRO")
    assert line.exercise_id is None
    assert practice.fit(kept).of(line.position).by_hand == lesson.teacher.name


def test_a_change_in_between_is_told_and_nothing_is_kept(lesson, program):
    changed(lesson, program, "R-FRO", "out")
    with pytest.raises(Refused) as refused:
        accepted(lesson, program, [1])
    assert codes(refused) == {"changed_meanwhile"}
    assert models.Program.objects.count() == 1


def test_a_check_in_is_compared_too_and_a_waiver(lesson, program):
    waivers.waive(lesson.client.pk, "R-SSP", reason="seen", by=lesson.teacher, now=NOW)
    assert "What is waived has changed since it was fitted." in compared(lesson, program).stale
    said = Answers((Sore("wrist", Side.LEFT),), pain=3)
    done = checkins.check_in(lesson.place.pk, answers=said, by=lesson.teacher, now=MORNING)
    fitted = models.Program.objects.get(pk=done.program_id)
    assert compared(lesson, fitted, now=MORNING).lines == ()


# --- pages -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def teacher(lesson):
    with time_machine.travel(MORNING, tick=False):
        yield logged_in(lesson.teacher)


def address(name: str, *args: object) -> str:
    return reverse(f"programming:{name}", args=args)


def test_a_line_is_changed_from_the_program_and_undone_from_the_message(teacher, lesson, program):
    line = line_of(program, "R-FRO")
    page = address("program-line", program.pk, line.pk)
    assert page in teacher.get(address("program", program.pk)).content.decode()
    answer = teacher.post(page, {"choice": "out", "revision": "0", "reps": ""})
    assert answer.headers["Location"] == f"{address('program', program.pk)}#line-{line.position}"
    html = teacher.get(address("program", program.pk)).content.decode()
    assert "left out by hand" in html
    back = html.split('action="')[1].split('"')[0].replace("&amp;", "&")
    assert back.startswith(address("program-line-back", program.pk, line.pk))
    assert teacher.post(back).status_code == 302
    assert line_of(program, "R-FRO").exercise_id == "R-FRO"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"choice": "out", "revision": "7"}, "Somebody else changed this program"),
        ({"choice": "R-SSP~plain", "revision": "0"}, "may not be done here"),
        ({"choice": "out", "revision": "x"}, "whole number"),
        ({"revision": "0"}, "required"),
        ({"choice": "R-FRO~plain", "revision": "0", "reps": "99"}, "less than or equal to 60"),
    ],
)
def test_a_choice_that_cannot_be_kept_is_told_on_the_page(teacher, lesson, program, data, words):
    answer = teacher.post(address("program-line", program.pk, line_of(program, "R-FRO").pk), data)
    assert answer.status_code == 409 and words in answer.content.decode()
    assert models.Program.objects.get(pk=program.pk).revision == 0


def test_the_differences_are_shown_and_kept_as_chosen(teacher, lesson, program):
    make_clients.signed_form(lesson.client, MANY, now=NOW)
    html = teacher.get(address("differences", program.pk)).content.decode()
    assert "would change" in html and "may not stay" in html
    answer = teacher.post(address("differences", program.pk), {"revision": "0", "line": []})
    kept = models.Program.objects.get(place=lesson.place, replaced_at=None)
    assert answer.headers["Location"] == address("program", kept.pk)
    assert kept.pk != program.pk


def test_nothing_to_change_is_said(teacher, lesson, program):
    assert "No line would change" in teacher.get(address("differences", program.pk)).content.decode()


@pytest.mark.parametrize(
    "data", [{}, {"revision": "x"}, {"revision": "0", "line": "0"}, {"revision": "0", "line": "x"}]
)
def test_a_broken_answer_to_the_differences_is_told(teacher, lesson, program, data):
    answer = teacher.post(address("differences", program.pk), data)
    assert answer.status_code == 409 and "Choose line by line" in answer.content.decode()
