"""Pages and API of the group plan: chosen, read, round by round, taken back; only for who cares for all of them."""

import pytest
from django.urls import reverse

from programming import models
from tests import make_programming
from tests.make_programming import BONES
from tests.make_scheduling import NOW
from tests.programming.test_actions_groups import BASICS, group, short
from tests.programming.test_actions_groups import house as house  # the fixture

pytestmark = pytest.mark.django_db


@pytest.fixture
def lesson(house, time_machine):
    time_machine.move_to(NOW, tick=False)
    return group(house, BONES, None)


@pytest.fixture
def as_teacher(client, house):
    client.force_login(house.teachers[0].person)
    return client


def url(name, *args, **query):
    asked = "?" + "&".join(f"{key}={value}" for key, value in query.items()) if query else ""
    return reverse(f"programming:{name}", args=args) + asked


def text(answer):
    return answer.content.decode()


def make(as_teacher, lesson, **more):
    told = {"template": short(*BASICS), "pace": "working", **more}
    return as_teacher.post(url("group-lesson", lesson.pk), told)


def test_the_day_leads_to_the_group_and_the_group_to_a_plan_with_both_people(as_teacher, lesson):
    place = lesson.places.first()
    assert url("group-lesson", lesson.pk) in text(as_teacher.get(url("floor", day="2026-03-12")))
    assert url("group-lesson", lesson.pk) in text(as_teacher.get(url("brief", place.pk)))
    chosen = as_teacher.get(url("group-lesson", lesson.pk))
    assert "One plan for 2 people" in text(chosen)
    answer = make(as_teacher, lesson)
    assert answer.status_code == 302
    page = text(as_teacher.get(answer.url))
    assert "Ada Quillan" in page and "Bertrick Hagsund" in page
    assert "asks for fewer separate instructions" in page


def test_the_lines_of_a_template_can_be_left_out_before_the_plan_is_made(as_teacher, lesson):
    template = short(*BASICS)
    page = text(as_teacher.get(url("group-lesson", lesson.pk, template=template)))
    assert "Leave lines out for everybody" in page
    told = {"template": template, "pace": "working", "without": ["1", "3"]}
    as_teacher.post(url("group-lesson", lesson.pk), told)
    assert models.GroupPlan.objects.get().lines.count() == len(BASICS) - 2


def test_what_is_refused_is_said_above_the_form_and_nothing_is_made(as_teacher, lesson):
    long = make_programming.make_template("Long", *BASICS * 5, minutes=120)
    answer = as_teacher.post(url("group-lesson", lesson.pk), {"template": long.pk, "pace": "working"})
    assert answer.status_code == 409
    assert "Together this takes" in text(answer)
    assert not models.GroupPlan.objects.exists()


@pytest.mark.parametrize("told", [{}, {"template": "x"}, {"template": "x", "pace": "gallop"}])
def test_wrong_input_is_answered_beside_the_form(as_teacher, lesson, told):
    assert as_teacher.post(url("group-lesson", lesson.pk), told).status_code == 422


def test_a_round_says_for_each_person_what_she_does_now_and_then(as_teacher, lesson):
    make(as_teacher, lesson)
    plan = models.GroupPlan.objects.get()
    page = text(as_teacher.get(url("group-round", plan.pk, 1)))
    assert page.count('class="person"') == 2
    assert "Footwork" in page and "Then" in page
    assert as_teacher.get(url("group-round", plan.pk, 99)).status_code == 404


def test_the_undo_of_a_plan_takes_it_back(as_teacher, lesson):
    make(as_teacher, lesson)
    plan = models.GroupPlan.objects.get()
    assert as_teacher.post(url("group-back", plan.pk)).status_code == 302
    assert not models.GroupPlan.objects.filter(replaced_at=None).exists()
    assert not models.Program.objects.filter(replaced_at=None).exists()


def test_a_teacher_who_does_not_care_for_them_reads_nothing(client, as_teacher, house, lesson):
    make(as_teacher, lesson)
    plan = models.GroupPlan.objects.get()
    client.force_login(house.teachers[1].person)
    answer = client.get(url("group", plan.pk))
    assert answer.status_code == 409
    assert "Footwork" not in text(answer)


def test_the_api_makes_a_plan_and_reads_it_without_a_word_about_why(as_teacher, lesson):
    address = url("api-group-plan", lesson.pk)
    assert as_teacher.get(address).status_code == 404
    told = {"template": str(short(*BASICS))}
    made = as_teacher.post(address, told, content_type="application/json")
    assert made.status_code == 200
    found = made.json()
    assert len(found["people"]) == 2
    assert all(at["supervision"] <= 4 for at in found["rounds"])
    assert found == as_teacher.get(address).json()
    assert "why" not in text(made) and "form" not in {key for line in found["lines"] for key in line["people"][0]}


def test_the_api_refuses_what_the_page_refuses(as_teacher, lesson):
    long = make_programming.make_template("Long", *BASICS * 5, minutes=120)
    answer = as_teacher.post(
        url("api-group-plan", lesson.pk), {"template": str(long.pk)}, content_type="application/json"
    )
    assert answer.status_code == 409
    assert answer.json()["reasons"][0]["code"] == "v2"


@pytest.mark.parametrize("typed", ["a\x00b", "9" * 400, "-1", "x" * 20_000, "שלום"])
def test_whatever_is_typed_into_the_form_is_answered_with_a_word(as_teacher, lesson, typed):
    template = short(*BASICS)
    assert as_teacher.get(url("group-lesson", lesson.pk), {"template": typed}).status_code == 200
    told = {"template": template, "pace": typed, "without": [typed]}
    assert as_teacher.post(url("group-lesson", lesson.pk), told).status_code == 422
    assert as_teacher.post(
        url("api-group-plan", lesson.pk), {"template": typed, "without": [typed]}, content_type="application/json"
    ).status_code == 400  # fmt: skip
