"""Pages of springs for teachers: from machine to machine, and the force and work of a program."""

import pytest
import time_machine
from django.urls import reverse

from programming.actions import bodies
from programming.rules.bodies import BodyFacts
from scheduling import actions as scheduling_actions
from scheduling.models import Apparatus
from tests.conftest import logged_in
from tests.make_programming import LESSON, NOW

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def in_the_lesson():
    with time_machine.travel(LESSON, tick=False):
        yield


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


@pytest.fixture
def program(lesson):
    return lesson.assign()


def url(name, *args):
    return reverse(f"programming:{name}", args=args)


def page(client, address, data=None, *, status=200, **more):
    answer = client.get(address, data, **more)
    assert answer.status_code == status
    return answer.content.decode()


def translated(client, what="series:Stomach massage", *, machine="Reformer 1", origin="", status=200):
    asked = {"what": what, "machine": Apparatus.objects.get(label=machine).pk}
    asked["origin"] = Apparatus.objects.get(label=origin).pk if origin else ""
    return page(client, url("translate"), asked, status=status)


def note(lesson, **facts):
    bodies.note_body(lesson.client.pk, facts=BodyFacts(**facts), by=lesson.teacher, now=NOW)


# --- from machine to machine -----------------------------------------------------------------------------------------


def test_a_series_is_told_as_springs_to_unhook(teacher, lesson):
    text = translated(teacher)
    assert text.count("Unhook one medium") == 2 and "Springs stay" in text
    assert "uncalibrated" in text


def test_a_tie_is_shown(teacher, lesson):
    text = translated(teacher, "series:Long stretch")
    assert "choose" in text and 'class="or"' in text


def test_machines_with_the_same_springs_change_nothing(teacher, lesson):
    assert "the same springs within 4 %" in translated(teacher, origin="Reformer 2")


def test_a_weaker_machine_is_told_in_units_and_in_percent(teacher, lesson):
    scheduling_actions.change_springs(Apparatus.objects.get(label="Reformer 2").pk, springs="MMM", by=None, now=NOW)
    text = translated(teacher, "series:Footwork", machine="Reformer 2", origin="Reformer 1")
    assert "cannot be had on this machine within one unit" in text
    assert "two units lighter: easier" in text and "less work outward: easier" in text


def test_a_template_in_use_is_put_on_a_machine(teacher, lesson):
    from_list = page(teacher, url("translate"))
    assert "Foundation order" in from_list
    key = from_list.split('value="template:')[1].split('"')[0]
    assert "Reference</th>" in translated(teacher, f"template:{key}")


def test_a_machine_without_springs_is_said_beside_the_field(teacher, lesson):
    scheduling_actions.change_springs(Apparatus.objects.get(label="Reformer 2").pk, springs="", by=None, now=NOW)
    text = translated(teacher, machine="Reformer 2", status=422)
    assert "This machine carries no springs." in text


def test_a_series_that_is_none_is_refused(teacher, lesson):
    assert "errors" in translated(teacher, "series:Nowhere", status=422)
    assert "errors" in translated(teacher, "template:nonsense", status=422)


def test_a_house_without_a_reformer_is_told_so(as_instructor):
    Apparatus.objects.update(kind="mat")
    assert "No reformer stands here yet" in page(as_instructor, url("translate"))


# --- force and work --------------------------------------------------------------------------------------------------


def test_a_program_tells_force_and_work_and_where_they_come_from(teacher, lesson, program):
    note(lesson, stature_mm=1650, sex="female")
    text = page(teacher, url("program-work", program.pk))
    assert "estimated from height and sex" in text and "within 6 cm" in text
    assert "uncalibrated" in text and "an estimate" in text
    assert "kcal" not in text.lower() and "calorie" not in text.lower()


def test_without_a_body_the_page_says_so_and_leads_to_where_it_is_noted(teacher, lesson, program):
    text = page(teacher, url("program-work", program.pk))
    assert "Neither height nor leg is noted" in text
    assert url("body", lesson.client.pk) in text


def test_the_stop_for_a_wanted_bend_is_answered_on_the_page(teacher, lesson, program):
    note(lesson, stature_mm=1650, leg_mm=1060)
    text = page(teacher, url("program-work", program.pk), {"bend": "80"})
    assert "The carriage stop" in text and "for 80°, an estimate" in text


@pytest.mark.parametrize("asked", [{"bend": "400"}, {"bend": "x"}])
def test_a_bend_that_is_none_is_said_beside_its_field(teacher, lesson, program, asked):
    note(lesson, stature_mm=1650, leg_mm=1060)
    text = page(teacher, url("program-work", program.pk), asked, status=422)
    assert 'class="error"' in text


def test_one_line_answers_a_tablet_with_a_fragment_and_a_plain_link_with_a_page(teacher, lesson, program):
    note(lesson, stature_mm=1650, leg_mm=1060)
    line = program.lines.get(exercise_id="R-FW1")
    address = url("line-work", program.pk, line.pk)
    fragment = page(teacher, address, headers=HTMX)
    assert fragment.lstrip().startswith("<section") and "by the length of the legs" in fragment
    assert "<html" in page(teacher, address)
    seen = page(teacher, address, {"stroke": "33"}, headers=HTMX)
    assert "33 cm, as you saw it" in seen
    assert page(teacher, address, {"stroke": "900"}, headers=HTMX, status=422)


def test_a_line_of_another_program_is_not_answered(teacher, lesson, program):
    assert teacher.get(url("line-work", program.pk, lesson.client.pk)).status_code == 409


def test_somebody_who_does_not_teach_her_is_asked_why(as_owner, as_instructor, lesson, program):
    for device in (as_owner, as_instructor):
        answer = device.get(url("program-work", program.pk))
        assert answer.status_code == 403 and "Say why you need to look" in answer.content.decode()
    opened = as_owner.post(url("program-work", program.pk), {"look": "1", "why": "cover"}, follow=True)
    assert "Work outward" in opened.content.decode()


def test_the_program_and_the_run_sheet_lead_here(teacher, lesson, program):
    assert url("program-work", program.pk) in page(teacher, url("program", program.pk))
    line = program.lines.exclude(decision="left_out").order_by("position")[0]
    assert url("line-work", program.pk, line.pk) in page(teacher, url("run-sheet", lesson.place.pk))
