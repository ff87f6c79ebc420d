"""The check-in, the build and waivers as teachers tap them: two taps, wrong input in words, the way back."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from clients.models import Review
from programming import models
from programming.actions import bodies, checkins
from tests import make_programming as practice
from tests.conftest import logged_in
from tests.make_programming import LESSON

pytestmark = pytest.mark.django_db
MORNING = LESSON - timedelta(minutes=12)


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(MORNING, tick=False) as traveller:
        yield traveller


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


@pytest.fixture
def program(lesson):
    return lesson.assign()


def address(name: str, *args: object) -> str:
    return reverse(f"programming:{name}", args=args)


def tap(teacher, lesson, **data: object):
    return teacher.post(address("check-in", lesson.place.pk), data)


def said(lesson):
    return checkins.open_check_in(lesson.place.pk, by=lesson.teacher, now=MORNING).answers


# --- the check-in ----------------------------------------------------------------------------------------------------


def test_a_place_and_a_number_are_two_taps_and_the_lesson_is_fitted(teacher, lesson, program):
    html = teacher.get(address("check-in", lesson.place.pk)).content.decode()
    assert 'name="sore" value="wrist.left"' in html and 'name="pain" value="3"' in html
    answer = tap(teacher, lesson, sore="wrist.left", pain="3")
    assert answer.status_code == 302
    told = teacher.get(answer.headers["Location"]).content.decode()
    assert "Left wrist or hand; pain 3" in told
    assert "for today only" in told
    assert models.Program.objects.get(place=lesson.place, replaced_at=None).today_only


def test_nothing_new_is_one_tap_and_leads_back_to_the_brief(teacher, lesson, program):
    answer = tap(teacher, lesson, nothing="1")
    assert answer.headers["Location"] == address("brief", lesson.place.pk)
    assert said(lesson).is_quiet


def test_left_and_right_of_one_place_are_said_as_both(teacher, lesson, program):
    tap(teacher, lesson, sore=["knee.left", "knee.right"], pain="2", slept="badly")
    assert checkins.rules.told(said(lesson)) == "both: knee; pain 2; slept badly"


def test_the_undo_of_the_message_takes_it_back(teacher, lesson, program):
    tap(teacher, lesson, sore="wrist.left", pain="3")
    page = teacher.get(address("check-in", lesson.place.pk)).content.decode()
    back = address("check-in-back", lesson.place.pk)
    assert back in page and "Undo" in page
    assert teacher.post(back).status_code == 302
    assert said(lesson) is None
    assert not models.Program.objects.get(place=lesson.place, replaced_at=None).today_only


def test_an_emergency_shows_the_number_and_no_way_into_the_lesson(teacher, lesson, program):
    page = teacher.get(tap(teacher, lesson, sign="chest").headers["Location"]).content.decode()
    assert "Stop. Call 112 now." in page
    assert address("run-sheet", lesson.place.pk) not in page
    assert Review.objects.filter(client=lesson.client, raised_at__isnull=False, done_at=None).exists()


def test_other_signs_say_no_lesson_today(teacher, lesson, program):
    page = teacher.get(tap(teacher, lesson, sign="dizzy").headers["Location"]).content.decode()
    assert "No lesson today." in page and "whole health form is asked for again" in page


def test_what_is_said_once_the_lesson_runs_names_the_lines_to_leave_out(teacher, lesson, program, clock):
    lesson.mark(program.lines.exclude(decision="left_out").order_by("position").first().pk)
    clock.move_to(LESSON + timedelta(minutes=5))
    page = teacher.get(tap(teacher, lesson, sore="wrist.left", pain="5").headers["Location"]).content.decode()
    assert "The lesson runs already" in page and "skip them" in page


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({}, "How strong is it?"),
        ({"sore": "wrist.left"}, "How strong is it?"),
        ({"pain": "3"}, "Where is it sore?"),
        ({"sore": "tail", "pain": "3"}, "not one of the available choices"),
        ({"sore": "wrist.left", "pain": "11"}, "less than or equal to 10"),
        ({"sign": "green"}, "not one of the available choices"),
    ],
)
def test_a_tap_too_few_is_told_and_what_was_tapped_stays(teacher, lesson, program, data, words):
    answer = tap(teacher, lesson, **data)
    page = answer.content.decode()
    assert answer.status_code == 409 and words in page
    if data.get("sore") == "wrist.left":
        assert 'value="wrist.left" checked' in page
    assert not models.CheckIn.objects.exists()


def test_a_teacher_who_does_not_care_for_the_client_is_asked_why(lesson, program):
    stranger = logged_in(lesson.house.teachers[1].person)
    page = stranger.get(address("check-in", lesson.place.pk))
    assert page.status_code == 403 and "Say why you need to look" in page.content.decode()


# --- the build -------------------------------------------------------------------------------------------------------


def test_the_build_is_tapped_kept_and_shown_again(teacher, lesson):
    data = {"notes": ["tall", "stiff_toes"], "stature_cm": "184", "leg_cm": "115.5", "sex": ""}
    assert teacher.post(address("body", lesson.client.pk), data).status_code == 302
    kept = bodies.read_body(lesson.client.pk, by=lesson.teacher, now=MORNING)
    assert (kept.notes, kept.stature_mm, kept.leg_mm) == ({"tall", "stiff_toes"}, 1840, 1155)
    page = teacher.get(address("body", lesson.client.pk)).content.decode()
    assert 'value="tall" checked' in page and 'value="115.5"' in page


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"notes": ["tall", "short"]}, "choose one"),
        ({"stature_cm": "17"}, "between 100 and 230 centimetres"),
        ({"stature_cm": "tall"}, "Enter a number"),
        ({"notes": ["green"]}, "not one of the available choices"),
        ({"stature_cm": "170", "leg_cm": "60"}, "do not go together"),
    ],
)
def test_a_build_nobody_has_is_told_beside_its_field(teacher, lesson, data, words):
    answer = teacher.post(address("body", lesson.client.pk), data)
    assert answer.status_code == 409 and words in answer.content.decode()
    assert not models.Body.objects.exists()


def test_the_build_before_comes_back(teacher, lesson):
    teacher.post(address("body", lesson.client.pk), {"notes": ["tall"]})
    teacher.post(address("body", lesson.client.pk), {"notes": ["short"]})
    teacher.post(address("body-back", lesson.client.pk))
    assert bodies.read_body(lesson.client.pk, by=lesson.teacher, now=MORNING).notes == {"tall"}


# --- waivers ---------------------------------------------------------------------------------------------------------


def test_a_waiver_is_written_from_its_exercise_and_taken_back(teacher, lesson):
    asked = f"{address('waivers', lesson.client.pk)}?exercise=R-SSP"
    page = teacher.get(asked).content.decode()
    assert "Waive what comes before Short spine" in page and "It asks for" in page
    data = {"exercise": "R-SSP", "equivalent": "", "reason": "Seen clean on the tower"}
    assert teacher.post(asked, data).status_code == 302
    listed = teacher.get(address("waivers", lesson.client.pk)).content.decode()
    assert "Seen clean on the tower" in listed and lesson.teacher.name in listed
    row = models.Waiver.objects.get()
    teacher.post(address("waiver-back", row.pk))
    assert "Nothing is waived" in teacher.get(address("waivers", lesson.client.pk)).content.decode()


def test_a_waiver_without_a_word_is_told_beside_its_field(teacher, lesson):
    answer = teacher.post(address("waivers", lesson.client.pk), {"exercise": "R-SSP", "reason": "  "})
    assert answer.status_code == 409
    assert not models.Waiver.objects.exists()


def test_a_waiver_given_from_a_program_leads_back_to_it(teacher, lesson, program):
    asked = f"{address('waivers', lesson.client.pk)}?exercise=R-SSP&program={program.pk}"
    answer = teacher.post(asked, {"exercise": "R-SSP", "reason": "Seen"})
    assert answer.headers["Location"] == address("program", program.pk)
    other = practice.lesson(lesson.house, practice.client("Oswin Threll"), hour=12).assign()
    asked = f"{address('waivers', lesson.client.pk)}?exercise=R-SSP&program={other.pk}"
    assert teacher.post(asked, {"exercise": "R-SSP", "reason": "Seen"}).headers["Location"] == address(
        "waivers", lesson.client.pk
    )
