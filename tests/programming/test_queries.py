"""What the floor reads, and that reading it costs the same for one row and for fifty."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clients import actions as client_actions
from programming import actions, models
from programming.queries import floor, programs, repertoire, templates
from programming.rules.marks import Mark
from studio.rules import ApparatusKind
from tests import make_clients, make_scheduling
from tests import make_programming as practice
from tests.make_programming import BONES, DAY, LESSON, NOW

pytestmark = pytest.mark.django_db


def opened_sheet(lesson, *, now):
    return actions.open_sheet(lesson.place.pk, by=lesson.teacher, now=now)


def cost(act) -> int:
    with CaptureQueriesContext(connection) as seen:
        act()
    return len(seen)


# --- the floor -------------------------------------------------------------------------------------------------------


def test_a_teachers_day_has_her_places_in_order_and_nobody_elses(lesson):
    late = practice.lesson(lesson.house, practice.client("Oswin Threll"), hour=16)
    early = practice.lesson(lesson.house, practice.client("Tovelin Hagsund"), hour=8)
    practice.lesson(lesson.house, practice.client("Noorin Qazimbar"), hour=9, machine=1, teacher=1)
    day = floor.floor_day(lesson.teacher, DAY, now=LESSON)
    assert [row.place.place_id for row in day.places] == [early.place.pk, lesson.place.pk, late.place.pk]
    assert [(row.is_past, row.is_now) for row in day.places] == [(True, False), (False, True), (False, False)]


def test_a_place_is_marked_when_its_brief_needs_a_look(lesson):
    lesson.client.screenings.update(valid_until=DAY - timedelta(days=1))
    (row,) = floor.floor_day(lesson.teacher, DAY, now=LESSON).places
    assert row.marks == ("form_not_current", "new")


def test_a_review_that_is_due_is_marked(lesson):
    lesson.assign()
    lesson.teach()
    later = DAY + timedelta(days=42)
    practice.make_clients.signed_form(lesson.client, BONES, now=LESSON + timedelta(days=40))
    practice.lesson(lesson.house, lesson.client, day=later)
    (row,) = floor.floor_day(lesson.teacher, later, now=NOW).places
    assert "due" in row.marks and "new" not in row.marks


def test_the_floor_costs_the_same_for_one_lesson_and_for_twelve(lesson):
    lesson.assign()
    one = cost(lambda: floor.floor_day(lesson.teacher, DAY, now=NOW))
    for number, hour in enumerate(range(7, 18)):
        who = make_clients.client(f"{make_scheduling.names()[number]}", now=NOW)
        make_scheduling.give_form(who, until=DAY + timedelta(days=90))
        minute = 0 if hour < 10 else 15
        if hour != 10:
            practice.lesson(lesson.house, who, hour=hour, minute=minute)
    day = floor.floor_day(lesson.teacher, DAY, now=NOW)
    assert len(day.places) == 11
    assert cost(lambda: floor.floor_day(lesson.teacher, DAY, now=NOW)) == one


# --- programs and sheets ---------------------------------------------------------------------------------------------


def of_lines(lesson, count: int):
    return lesson.assign(practice.reformer_rows(count).name, minutes=240)


def test_a_program_costs_the_same_for_one_line_and_for_fifty(lesson):
    few, many = of_lines(lesson, 1), of_lines(lesson, 50)
    assert len(practice.view(many).lines) == 50
    assert cost(lambda: practice.view(few)) == cost(lambda: practice.view(many)) <= 10


def test_a_run_sheet_costs_the_same_for_one_line_and_for_fifty(lesson):
    """Of the fifteen, five ask who may read and keep it on record, with begin and end of the transaction."""
    of_lines(lesson, 1)
    one = cost(lambda: opened_sheet(lesson, now=LESSON))
    many = of_lines(lesson, 50)
    assert cost(lambda: opened_sheet(lesson, now=LESSON)) == one <= 16
    for line in many.lines.exclude(decision="left_out"):
        lesson.mark(line.pk)
    assert cost(lambda: opened_sheet(lesson, now=LESSON)) == one + 1


def test_the_rail_of_a_program_is_as_long_as_its_lines(lesson):
    view = practice.view(lesson.assign())
    widths = sum(line.width for line in view.rail.lines) / 100 * view.rail.minutes * 60
    assert widths == pytest.approx(sum(line.seconds for line in view.lines), rel=0.02)
    assert view.rail.lines[0].start > 0


def test_lines_as_planned_are_folded_and_every_line_is_there_once(lesson):
    view = practice.view(lesson.assign())
    assert [line.no for fold in view.folds for line in fold.lines] == [line.no for line in view.lines]
    assert all(len(fold.lines) == 1 for fold in view.folds if fold.first.decision.value != "as_planned")


def test_the_sheet_walks_from_line_to_line_and_knows_the_last_mark(lesson):
    lesson.assign()
    sheet = opened_sheet(lesson, now=LESSON)
    first = sheet.current
    assert (first.no, sheet.next.no, sheet.last) == (1, 2, None)
    lesson.mark(first.line.id)
    sheet = opened_sheet(lesson, now=LESSON + timedelta(seconds=8))
    assert (sheet.current.no, sheet.last.no, sheet.can_undo) == (2, 1, True)
    assert not opened_sheet(lesson, now=LESSON + timedelta(seconds=9)).can_undo


def test_lines_left_out_are_not_walked(lesson):
    practice.make_clients.signed_form(lesson.client, practice.MANY, now=NOW)
    program = of_lines(lesson, 64)
    sheet = opened_sheet(lesson, now=LESSON)
    out = program.lines.filter(decision="left_out").count()
    assert out and sum(line.no == 0 for line in sheet.lines) == out
    assert [line.no for line in sheet.taught] == list(range(1, 65 - out))
    assert all(line.line.exercise_id for line in sheet.taught)


def test_nothing_on_a_run_sheet_names_a_condition(lesson):
    program = lesson.assign()
    view = practice.view(program)
    conditions = {name for line in view.lines for step in line.why for name in step.conditions}
    sheet = opened_sheet(lesson, now=LESSON)
    shown = " ".join(
        f"{line.title} {line.setting.words} {line.line.form} {line.ladder.cue} {line.ladder.easier} {line.part_of}"
        for line in sheet.lines
    ).lower()
    assert conditions
    assert not [name for name in conditions if name.lower() in shown]


def test_easier_steps_on_the_sheet_bring_in_no_demand(lesson):
    ladders = repertoire.ladders(list(models.Exercise.objects.values_list("pk", flat=True)))
    steps = {step.row["change"]: step.row for step in models.LadderStep.objects.filter(kind="regression")}
    shown = [steps[one.easier] for one in ladders.values() if one.easier]
    assert shown
    assert not [row for row in shown if row["substitutes_row"]]


def test_minutes_left_fall_as_lines_are_marked(lesson):
    program = lesson.assign()
    before = opened_sheet(lesson, now=LESSON).minutes_left
    for line in program.lines.exclude(decision="left_out").order_by("position")[:6]:
        lesson.mark(line.pk, Mark.SKIPPED)
    assert opened_sheet(lesson, now=LESSON).minutes_left < before


# --- choosing --------------------------------------------------------------------------------------------------------


def test_templates_for_this_machine_and_level_come_first(lesson):
    found = templates.choices(lesson.client.pk, ApparatusKind.REFORMER)
    assert [one.fits_here for one in found] == sorted((one.fits_here for one in found), reverse=True)
    assert {one.name for one in found if one.fits_here} == {
        "First carriage",
        "Foundation order",
        "Short visit",
        "Two places",
    }
    client_actions.sign_level(lesson.client.pk, kind="reformer", level=3, by=lesson.teacher, now=NOW)
    found = templates.choices(lesson.client.pk, ApparatusKind.REFORMER)
    assert "Long and opposed" in {one.name for one in found if one.fits_here}


def test_templates_are_found_by_name_and_by_aim(lesson):
    assert [one.name for one in templates.choices(lesson.client.pk, ApparatusKind.REFORMER, text="short")] == [
        "Short visit"
    ]
    assert "Tower round" in {
        one.name for one in templates.choices(lesson.client.pk, ApparatusKind.REFORMER, text="springs above")
    }
    assert templates.choices(lesson.client.pk, ApparatusKind.REFORMER, text="\x00🦩") == []


def test_programs_on_a_card_cost_the_same_for_one_and_for_many(lesson):
    lesson.assign()
    one = cost(lambda: programs.programs_of(lesson.client.pk))
    for name in ("Short visit", "Two places", "First carriage", "Foundation order"):
        lesson.assign(name)
    assert len(programs.programs_of(lesson.client.pk)) == 5
    assert cost(lambda: programs.programs_of(lesson.client.pk)) == one
    assert actions.open_program(programs.programs_of(lesson.client.pk)[0].id, by=lesson.teacher, now=NOW).stale == ()
