"""Validate and time over the wire: reference ids in, the page's own rules out, nothing kept."""

import pytest
from django.urls import reverse

from programming import models
from studio.rules import Role
from tests import make
from tests.conftest import logged_in
from tests.programming.reference import FOUNDATION

pytestmark = pytest.mark.django_db


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


def ask(client, name, **body):
    return client.post(reverse(f"programming:{name}"), body, content_type="application/json")


def program(*ids, **more):
    return {"lines": [{"exercise": key} for key in ids], **more}


def test_the_foundation_program_takes_48_minutes_at_learning_pace_with_two_new(teacher):
    """Worked example one of programs, section 3: 48.2 minutes."""
    found = ask(teacher, "api-time", **program(*FOUNDATION, pace="learning", new_exercises=2)).json()
    assert round(found["seconds"] / 60, 1) == 48.2
    assert found["fit"] == "fits" and len(found["lines"]) == 19
    assert found["lines"][0]["begins"] == 180


def test_time_tells_changes_boxes_balance_and_exposure(teacher):
    found = ask(teacher, "api-time", **program(*FOUNDATION)).json()
    assert (found["flexion"], found["extension"], found["box_fetches"]) == (7, 1, 2)
    assert found["spring_changes"] == sum(line["spring_changes"] for line in found["lines"])
    assert {one["demand"] for one in found["exposure"]} >= {"wrist_wb", "neck_hold", "supine_flat"}


def test_a_lesson_far_too_long_blocks(teacher):
    found = ask(teacher, "api-validate", **program(*FOUNDATION, minutes=20)).json()
    assert found["blocks"] and found["findings"][0]["rule"] == "V2"


def test_a_rule_names_the_line_it_is_about(teacher):
    found = ask(teacher, "api-validate", **program("R-FW1", "R-SM2", "R-SM1")).json()
    assert [(one["rule"], one["line"]) for one in found["findings"] if one["severity"] == "block"] == [("V8", 3)]


def test_springs_are_judged_on_an_inventory_or_on_a_machine(lesson, teacher):
    weak = ask(teacher, "api-validate", **program("R-RUN", inventory="MMM")).json()
    assert [one["rule"] for one in weak["findings"] if one["severity"] == "block"] == ["V3"]
    none = ask(teacher, "api-validate", **program("R-RUN", inventory="")).json()
    assert any(one["says"] == "this machine has no springs" for one in none["findings"])
    ours = ask(teacher, "api-validate", **program("R-RUN", machine=lesson.place.apparatus_id)).json()
    assert not ours["blocks"]


def test_an_adapted_line_counts_as_it_is_performed(teacher):
    body = {"lines": [{"exercise": "R-HUN", "adapted": True}]}
    assert ask(teacher, "api-time", **body).json()["flexion"] == 0


def test_an_unknown_exercise_is_named(teacher):
    answer = ask(teacher, "api-validate", **program("R-HUN", "R-NOPE"))
    assert answer.status_code == 409
    assert answer.json()["reasons"][0]["says"] == "Not in the repertoire: R-NOPE."


@pytest.mark.parametrize(
    "body", [{}, {"lines": []}, program("R-HUN", pace="slow"), program("R-HUN", minutes=0), program("x" * 40)]
)
def test_a_broken_question_is_told_field_by_field(teacher, body):
    answer = ask(teacher, "api-time", **body)
    assert answer.status_code == 400 and answer.json()


def test_an_unknown_machine_is_not_found(teacher):
    assert ask(teacher, "api-validate", **program("R-HUN", machine=999_999)).status_code == 404


def test_the_desk_does_not_ask(lesson):
    assert ask(logged_in(make.person(Role.DESK)), "api-time", **program("R-HUN")).status_code == 403


def test_nothing_is_kept(teacher):
    before = models.Template.objects.count()
    ask(teacher, "api-validate", **program("R-HUN"))
    assert models.Template.objects.count() == before
