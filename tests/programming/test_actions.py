"""Assigning, fitting again, and opening a program; the templates a studio starts with."""

from datetime import timedelta

import pytest
from django.core.management import call_command

from clients.models import Care
from programming import actions, models
from programming.queries import files
from scheduling import actions as scheduling_actions
from studio.models import AuditEntry
from studio.rules import ApparatusKind, Refused, Role
from tests import make, make_clients, make_scheduling
from tests import make_programming as practice
from tests.make_programming import BONES, NOW

pytestmark = pytest.mark.django_db


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


def avoided(lesson) -> set[str]:
    screening = lesson.client.screenings.get(replaced_at=None)
    return {limit.demand for limit in make_clients.limits(screening) if limit.level == "avoid"}


# --- assigning -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [one.name for one in files.shipped_templates()])
def test_no_line_of_a_fitted_program_makes_an_avoided_demand(lesson, name):
    program = lesson.assign(name)
    assert avoided(lesson)
    assert not [line for line in practice.fit(program).lines.values() if avoided(lesson) & line.demands]


def test_every_planned_line_is_accounted_for_in_its_order(lesson):
    program = lesson.assign()
    planned = list(practice.template().lines.order_by("position").values_list("exercise_id", flat=True))
    assert list(program.lines.order_by("position").values_list("planned_id", flat=True)) == planned
    done = set(program.lines.values_list("decision", flat=True))
    assert {"as_planned", "adapted"} < done and done & {"swapped", "left_out"}


def test_every_changed_line_says_why_down_to_a_source(lesson):
    view = practice.view(lesson.assign())
    changed = [line for line in view.lines if line.decision.value != "as_planned"]
    assert changed
    for line in changed:
        assert line.why or line.notes
        for step in line.why:
            assert step.conditions and step.demand and step.rule and step.sources and step.strength


def test_a_client_without_limits_who_owns_it_all_gets_the_template_as_planned(lesson):
    other = practice.lesson(lesson.house, practice.client("Oswin Threll"), hour=12)
    models.Ownership.objects.bulk_create(
        models.Ownership(
            client=other.client, exercise_id=key, standing="owned", introduced_on=NOW.date(), last_on=NOW.date()
        )
        for key in practice.template().lines.values_list("exercise_id", flat=True)
    )
    assert set(other.assign().lines.values_list("decision", flat=True)) == {"as_planned"}


def test_springs_are_those_of_the_machine_of_the_lesson(lesson):
    """A reference count of 4 aims at eight units within one; of the sets of HHMML, HHM has eight in fewest springs."""
    program = lesson.assign()
    first = program.lines.get(position=1)
    assert first.spring_set == "HHM"
    assert program.fitted_for["springs"] == "HHMML"


def test_assigning_gives_the_teacher_care_and_leaves_an_audit_row(lesson):
    program = lesson.assign()
    assert Care.objects.filter(source=f"program:{program.pk}", person=lesson.teacher).exists()
    assert AuditEntry.objects.filter(verb="assign_program", key=str(program.pk), person=lesson.teacher).exists()
    assert AuditEntry.objects.filter(verb="read_limits", person=lesson.teacher).exists()


def test_another_template_replaces_the_program_and_changes_nothing_in_it(lesson):
    first = lesson.assign()
    before = list(first.lines.order_by("position").values())
    second = lesson.assign("Two places", now=NOW + timedelta(minutes=5))
    first.refresh_from_db()
    assert first.replaced_at == NOW + timedelta(minutes=5)
    assert list(first.lines.order_by("position").values()) == before
    assert models.Program.objects.get(place=lesson.place, replaced_at=None) == second


def test_fitting_again_to_the_same_changes_nothing(lesson):
    first = lesson.assign()
    again = actions.refit_program(first.pk, by=lesson.teacher, now=NOW + timedelta(hours=1))
    assert again == first
    assert models.Program.objects.count() == 1


def test_fitting_again_after_the_place_moved_takes_the_new_machine(lesson):
    practice_machine = make_scheduling.machine(lesson.house.studio, lesson.house.room, "Reformer 9", springs="MMLL")
    first = lesson.assign()
    scheduling_actions.move_lesson(
        lesson.place.lesson_id,
        span=practice.span(10, 15),
        apparatus={lesson.place.pk: practice_machine.pk},
        by=None,
        now=NOW,
    )
    opened = actions.open_program(first.pk, by=lesson.teacher, now=NOW)
    assert opened.stale == ("It was fitted for Reformer 1; the lesson is on Reformer 9 now.",)
    again = actions.refit_program(first.pk, by=lesson.teacher, now=NOW)
    assert again.apparatus == practice_machine
    assert again.fitted_for["springs"] == "MMLL"
    assert actions.open_program(again.pk, by=lesson.teacher, now=NOW).stale == ()


def test_a_program_says_when_springs_limits_or_length_have_changed(lesson):
    program = lesson.assign()
    scheduling_actions.change_springs(lesson.place.apparatus_id, springs="HMML", by=None, now=NOW)
    practice.make_clients.signed_form(lesson.client, BONES | {"H08": ["yes"], "H08.conditions": ["C38"]}, now=NOW)
    scheduling_actions.move_lesson(lesson.place.lesson_id, span=practice.span(10, 15, minutes=45), by=None, now=NOW)
    told = " ".join(actions.open_program(program.pk, by=lesson.teacher, now=NOW).stale)
    assert "springs of Reformer 1 have changed" in told
    assert "55 minutes; the lesson has 45 now" in told
    assert "limits have changed" in told


def test_a_standing_program_without_a_place_replaces_the_one_before(lesson):
    first = lesson.assign(place_id=None)
    second = lesson.assign("Short visit", place_id=None, now=NOW + timedelta(days=1))
    first.refresh_from_db()
    assert first.replaced_at and second.replaced_at is None


# --- refused ---------------------------------------------------------------------------------------------------------


def test_a_template_out_of_use_is_refused(lesson):
    retired = models.Template.objects.create(
        name="Old order", apparatus_kind="reformer", level=1, state="retired", made_at=NOW
    )
    with pytest.raises(Refused) as refused:
        lesson.assign(template_id=retired.pk)
    assert codes(refused) == {"template_not_in_use"}


def test_a_place_of_somebody_else_is_refused(lesson):
    other = practice.lesson(lesson.house, practice.client("Oswin Threll"), hour=12)
    with pytest.raises(Refused) as refused:
        lesson.assign(place_id=other.place.pk)
    assert codes(refused) == {"other_client"}


def test_a_cancelled_place_is_refused(lesson):
    scheduling_actions.mark_place(lesson.place.pk, state="cancelled", by=None, now=NOW)
    with pytest.raises(Refused) as refused:
        lesson.assign(by=lesson.teacher, why="it was hers")
    assert codes(refused) == {"place_not_held"}


def test_a_lesson_that_is_being_logged_keeps_its_program(lesson):
    program = lesson.assign()
    lesson.mark(program.lines.exclude(decision="left_out").order_by("position")[0].pk)
    with pytest.raises(Refused) as refused:
        lesson.assign("Short visit", now=practice.LESSON)
    assert codes(refused) == {"log_begun"}


def test_a_teacher_who_does_not_care_for_the_client_is_asked_why(lesson):
    stranger = lesson.house.teachers[1].person
    with pytest.raises(Refused) as refused:
        lesson.assign(by=stranger)
    assert codes(refused) == {"say_why"}
    assert lesson.assign(by=stranger, why="covers on Thursday").made_by == stranger
    assert AuditEntry.objects.filter(verb="read_limits", person=stranger, why="covers on Thursday").exists()


def test_the_desk_never_opens_a_program(lesson):
    program = lesson.assign()
    with pytest.raises(Refused) as refused:
        actions.open_program(program.pk, by=make.person(Role.DESK), now=NOW, why="curious")
    assert codes(refused) == {"not_open"}


# --- templates -------------------------------------------------------------------------------------------------------


def test_the_shipped_templates_are_made_once(lesson):
    assert models.Template.objects.count() == len(files.shipped_templates())
    assert actions.load_templates(files.shipped_templates(), now=NOW) == 0


def test_the_command_makes_them_in_a_studio_that_has_none(lesson, capsys):
    models.Template.objects.all().delete()
    call_command("load_reference")
    call_command("load_reference")
    told = capsys.readouterr().out
    assert told.count("Templates made: 8.") == 1
    assert models.Template.objects.filter(state="active").count() == 8


def test_a_template_that_a_rule_blocks_is_refused(lesson):
    """Short box before its springs and box, headrest up under a loaded neck: rule V7 of programs.md, section 9."""
    with pytest.raises(Refused) as refused:
        actions.make_template(
            name="Too long by far",
            aim="",
            kind=ApparatusKind.REFORMER,
            level=2,
            minutes=10,
            lines=[actions.NewLine(line.exercise_id) for line in practice.template().lines.order_by("position")],
            by=None,
            now=NOW,
        )
    assert codes(refused) == {"v2"}


def test_a_template_made_again_is_its_next_version(lesson):
    made = actions.make_template(
        name="Short visit", aim="", kind=ApparatusKind.REFORMER, level=1, minutes=30,
        lines=[actions.NewLine("R-FW1"), actions.NewLine("R-FRO")], by=lesson.teacher, now=NOW,
    )  # fmt: skip
    assert made.version == 2
    assert models.Template.objects.get(name="Short visit", state="active") == made
