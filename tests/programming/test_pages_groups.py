"""Pages and API of the group plan: chosen, read, round by round, taken back; only for who cares for all of them."""

import pytest
from django.urls import reverse

from programming import models
from studio.models import AuditEntry
from studio.rules import Role
from tests import make as make_studio
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


def test_a_plan_made_again_to_the_same_says_so_and_offers_no_undo(as_teacher, lesson):
    told = {"template": short(*BASICS), "pace": "working"}
    first = as_teacher.post(url("group-lesson", lesson.pk), told)
    assert "The plan is made" in text(as_teacher.get(first.url))
    again = as_teacher.post(url("group-lesson", lesson.pk), told)
    page = text(as_teacher.get(again.url))
    assert again.url == first.url
    assert "nothing had to change" in page and "The plan is made" not in page


def test_the_undo_of_a_plan_takes_it_back(as_teacher, lesson):
    make(as_teacher, lesson)
    plan = models.GroupPlan.objects.get()
    assert as_teacher.post(url("group-back", plan.pk)).status_code == 302
    assert not models.GroupPlan.objects.filter(replaced_at=None).exists()
    assert not models.Program.objects.filter(replaced_at=None).exists()


def somebody_else(house, role):
    return house.teachers[1].person if role is Role.INSTRUCTOR else make_studio.person(Role.OWNER)


EITHER = pytest.mark.parametrize("role", [Role.INSTRUCTOR, Role.OWNER])


@EITHER
@pytest.mark.parametrize(("page", "more"), [("group", ()), ("group-round", (1,))])
def test_who_does_not_teach_them_says_once_why_and_it_is_on_record_for_each(
    client, as_teacher, house, lesson, role, page, more
):
    make(as_teacher, lesson)
    address = url(page, models.GroupPlan.objects.get().pk, *more)
    client.force_login(somebody_else(house, role))
    asked = client.get(address)
    assert asked.status_code == 403
    assert "Ada Quillan, Bertrick Hagsund" in text(asked) and "Footwork" not in text(asked)
    assert client.post(address, {"look": "1", "why": " "}).status_code == 403
    read = AuditEntry.objects.filter(verb="open_group_plan")
    assert not read.exists()
    assert client.post(address, {"look": "1", "why": "stands in today"}).url == address
    assert "Footwork" in text(client.get(address))
    everybody = {(place.client_id, "stands in today") for place in lesson.places.all()}
    assert set(read.values_list("client_key", "why")) == everybody and read.count() == len(everybody)


@EITHER
def test_who_does_not_teach_them_says_why_before_she_chooses_and_then_makes_the_plan(client, house, lesson, role):
    client.force_login(somebody_else(house, role))
    told = {"template": short(*BASICS), "pace": "working"}
    address = url("group-lesson", lesson.pk, template=told["template"])
    assert client.get(url("group-lesson", lesson.pk)).status_code == 200
    assert client.get(address).status_code == 403
    assert client.post(address, told).status_code == 403
    assert not models.GroupPlan.objects.exists()
    assert client.post(address, {"look": "1", "why": "stands in today"}).url == address
    assert "Make the plan" in text(client.get(address))
    assert client.post(address, told).status_code == 302
    read = AuditEntry.objects.filter(verb="read_limits", kind="read")
    assert set(read.values_list("client_key", "why")) == {
        (place.client_id, "stands in today") for place in lesson.places.all()
    }


def test_a_reason_given_for_one_of_them_before_stays_hers(client, as_teacher, house, lesson):
    make(as_teacher, lesson)
    plan = models.GroupPlan.objects.get()
    program = plan.programs.get(client__name="Ada Quillan")
    client.force_login(house.teachers[1].person)
    client.post(url("program", program.pk), {"look": "1", "why": "asked by her"})
    asked = text(client.get(url("group", plan.pk)))
    assert "Bertrick Hagsund" in asked and "Ada Quillan" not in asked
    client.post(url("group", plan.pk), {"look": "1", "why": "stands in today"})
    client.get(url("group", plan.pk))
    read = AuditEntry.objects.filter(verb="open_group_plan")
    assert set(read.values_list("why", flat=True)) == {"asked by her", "stands in today"}


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
