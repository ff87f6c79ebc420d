"""The run sheet and its log over HTTP for programs."""

import json

import pytest
import time_machine
from django.test import Client as Browser
from django.urls import reverse

from clients.models import Client
from programming import models
from studio.models import IdempotencyKey
from tests.conftest import logged_in
from tests.make_programming import LESSON

pytestmark = pytest.mark.django_db
NOBODY = "00000000-0000-4000-8000-000000000000"


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LESSON, tick=False):
        yield


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


@pytest.fixture
def program(lesson):
    return lesson.assign()


def get(client, place_id):
    return client.get(reverse("programming:api-run-sheet", args=[place_id]))


def post(client, name, place_id, body=None, **headers):
    address = reverse(f"programming:api-log-{name}", args=[place_id])
    return client.post(address, json.dumps(body or {}), content_type="application/json", headers=headers)


def test_the_run_sheet_comes_with_its_lines_springs_and_marks(teacher, lesson, program):
    answer = get(teacher, lesson.place.pk)
    body = answer.json()
    assert answer.status_code == 200
    assert body["machine"] == "Reformer 1" and body["log_id"] is None
    assert len(body["lines"]) == 19
    first = body["lines"][0]
    assert first["set_springs"] == "Hook two heavy and one medium" and first["springs"] == "HHM"
    assert body["current_line"] == first["id"]


def test_no_condition_and_no_limit_goes_over_the_wire(teacher, lesson, program):
    told = json.dumps(get(teacher, lesson.place.pk).json())
    assert "steoporosis" not in told and "C01" not in told and "because" not in told


def test_a_line_is_marked_taken_back_and_the_log_finished(teacher, lesson, program):
    line = get(teacher, lesson.place.pk).json()["current_line"]
    marked = post(teacher, "line", lesson.place.pk, {"line": line, "mark": "fewer", "reps": 6, "score": 3})
    assert marked.status_code == 200
    told = marked.json()["lines"][0]
    assert (told["mark"], told["reps_done"], told["score"]) == ("fewer", 6, 3)
    assert marked.json()["current_line"] != line
    assert post(teacher, "undo", lesson.place.pk, {"line": line}).json()["current_line"] == line
    post(teacher, "line", lesson.place.pk, {"line": line, "mark": "done"})
    finished = post(teacher, "finish", lesson.place.pk)
    assert finished.status_code == 200 and finished.json()["finished_at"]
    assert post(teacher, "finish", lesson.place.pk).json()["finished_at"] == finished.json()["finished_at"]
    assert Client.objects.get(pk=lesson.client.pk).visits == 1


def test_the_same_key_marks_once_and_gives_the_same_answer(teacher, lesson, program):
    line = get(teacher, lesson.place.pk).json()["current_line"]
    answers = [
        post(teacher, "line", lesson.place.pk, {"line": line, "mark": "done"}, **{"Idempotency-Key": "tap-1"})
        for _ in range(2)
    ]
    assert answers[0].json() == answers[1].json()
    assert models.LogLine.objects.count() == 1


def test_the_kept_answer_of_a_tap_tells_nothing_of_the_body(teacher, lesson, program):
    line = get(teacher, lesson.place.pk).json()["current_line"]
    post(teacher, "line", lesson.place.pk, {"line": line, "mark": "done"}, **{"Idempotency-Key": "tap-2"})
    kept = IdempotencyKey.objects.get(key="tap-2")
    assert (kept.status, kept.answer) == (200, {})


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"line": "nonsense", "mark": "done"},
        {"line": NOBODY, "mark": "sideways"},
        {"line": NOBODY, "mark": "done", "score": 7},
        {"line": NOBODY, "mark": "done", "reps": -1},
    ],
)
def test_a_body_of_the_wrong_shape_is_400(teacher, lesson, program, body):
    assert post(teacher, "line", lesson.place.pk, body).status_code == 400


def test_a_line_of_nothing_is_409_with_its_reason(teacher, lesson, program):
    answer = post(teacher, "line", lesson.place.pk, {"line": NOBODY, "mark": "done"})
    assert answer.status_code == 409
    assert [reason["code"] for reason in answer.json()["reasons"]] == ["other_program"]


def test_nothing_marked_is_nothing_to_undo_or_finish(teacher, lesson, program):
    assert post(teacher, "undo", lesson.place.pk, {"line": NOBODY}).status_code == 409
    assert post(teacher, "finish", lesson.place.pk).status_code == 409


def test_nobody_is_401_the_desk_and_other_teachers_are_403_unknown_is_404(teacher, as_desk, lesson, program):
    stranger = logged_in(lesson.house.teachers[1].person)
    for client, status in ((Browser(), 401), (as_desk, 403), (stranger, 403)):
        assert get(client, lesson.place.pk).status_code == status
        assert post(client, "finish", lesson.place.pk).status_code == status
        assert post(client, "line", lesson.place.pk, {"line": NOBODY, "mark": "done"}).status_code == status
    assert get(teacher, NOBODY).status_code == 404
    assert post(teacher, "finish", NOBODY).status_code == 404
