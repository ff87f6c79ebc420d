"""Fitting over the API: reference ids in, the same fit out, nothing kept; unknown ids are named."""

import pytest
from django.urls import reverse

from programming import models
from programming.rules import bodies
from tests import make_programming as practice
from tests.conftest import logged_in

pytestmark = pytest.mark.django_db
LINES = [{"exercise": "R-FW1"}, {"exercise": "R-FW2"}, {"exercise": "R-HUN"}, {"exercise": "R-FRO"}]


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


def fit(teacher, **body: object):
    given = {"lines": LINES, "inventory": "HHMML"} | body
    address = reverse("programming:api-fit")
    return teacher.post(address, {k: v for k, v in given.items() if v is not None}, content_type="application/json")


def exercises(answer) -> list[str | None]:
    return [line["exercise"] for line in answer.json()["lines"]]


def test_without_limits_the_lines_come_back_as_planned(teacher, lesson):
    answer = fit(teacher)
    assert answer.status_code == 200
    assert [line["decision"] for line in answer.json()["lines"]] == ["as_planned"] * 4
    assert exercises(answer) == [line["exercise"] for line in LINES]
    assert answer.json()["lines"][0]["springs"] == "HHM"


def test_no_line_brings_what_is_avoided_and_each_change_says_why(teacher, lesson):
    answer = fit(teacher, limits=[{"demand": "flex_loaded", "level": "avoid"}]).json()
    changed = [line for line in answer["lines"] if line["decision"] != "as_planned"]
    assert changed and all(line["why"] for line in changed)
    assert {why["demand"] for line in changed for why in line["why"]} == {"flex_loaded"}


def test_a_template_by_its_key_and_a_machine_by_its_key(teacher, lesson):
    template, machine = practice.template(), lesson.place.apparatus_id
    answer = fit(teacher, lines=None, inventory=None, template=str(template.pk), machine=machine)
    assert [line["planned"] for line in answer.json()["lines"]] == list(
        template.lines.order_by("position").values_list("exercise_id", flat=True)
    )


def test_body_notes_choose_set_ups(teacher, lesson):
    line = fit(teacher, body=["tall"]).json()["lines"][0]
    assert "FW-S1" in line["steps"] and line["set_up"]


def test_nothing_is_kept(teacher, lesson):
    fit(teacher)
    assert not models.Program.objects.exists()


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"lines": [{"exercise": "Z-99"}]}, "lines"),
        ({"limits": [{"demand": "green", "level": "avoid"}]}, "limits"),
        ({"limits": [{"demand": "kneel", "level": "never"}]}, "limits"),
        ({"owned": ["Z-99"]}, "owned"),
        ({"waived": ["Z-99"]}, "waived"),
        ({"body": ["green"]}, "body"),
        ({"inventory": "XX"}, "inventory"),
        ({"minutes": 0}, "minutes"),
        ({"lines": []}, "lines"),
        ({"lines": None}, "lines"),
        ({"template": "00000000-0000-4000-8000-000000000000"}, "lines"),
        ({"levels": [{"apparatus": "reformer", "level": 9}]}, "levels"),
    ],
)
def test_what_is_not_known_here_is_400_and_names_its_field(teacher, lesson, body, field):
    answer = fit(teacher, **body)
    assert answer.status_code == 400
    assert field in answer.json()


def test_an_unknown_template_or_machine_is_404(teacher, lesson):
    assert fit(teacher, lines=None, template="00000000-0000-4000-8000-000000000000").status_code == 404
    assert fit(teacher, machine=99999999).status_code == 404


def test_every_note_of_the_list_is_taken(teacher, lesson):
    for key in bodies.BY_KEY:
        assert fit(teacher, body=[key]).status_code == 200
