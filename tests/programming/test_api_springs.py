"""Translation over the API: the same rules as the page, by reference ids."""

import pytest
from django.urls import reverse

from tests import make_programming as practice
from tests import make_scheduling

pytestmark = pytest.mark.django_db
MASSAGE = ["R-SM1", "R-SM2", "R-SM3", "R-SM4"]
STOCK = {"heavy": 2, "medium": 2, "light": 1}


@pytest.fixture(autouse=True)
def reference():
    practice.load()


def ask(client, **body):
    return client.post(reverse("programming:api-translate"), body, content_type="application/json")


def test_stomach_massage_on_one_light_two_medium_two_heavy(as_instructor):
    # worked example of the reference: 4-3-2-2 gives HMML, HML, HL, HL, no error
    answer = ask(as_instructor, exercises=MASSAGE, inventory=STOCK).json()
    assert answer["inventory"] == "HHMML"
    assert [line["springs"] for line in answer["lines"]] == ["HMML", "HML", "HL", "HL"]
    assert [line["deed"] for line in answer["lines"][1:]] == ["Unhook one medium", "Unhook one medium", "Springs stay"]
    assert {line["error"] for line in answer["lines"]} == {0}


def test_a_machine_of_the_house_brings_its_own_springs(as_instructor):
    machine = make_scheduling.house(reformers=1).reformers[0]
    by_machine = ask(as_instructor, exercises=MASSAGE, machine_id=machine.pk)
    assert by_machine.json() == ask(as_instructor, exercises=MASSAGE, inventory=STOCK).json()


def test_other_counts_than_the_usual_and_a_tie(as_instructor):
    (line,) = ask(as_instructor, exercises=["R-FW1"], counts=[2], inventory=STOCK).json()["lines"]
    assert (line["reference"], line["springs"], line["others"]) == (2, "HL", ["MM"])


def test_too_weak_a_machine_gives_the_nearest_set_and_says_so(as_instructor):
    (line,) = ask(as_instructor, exercises=["R-FW1"], inventory={"heavy": 0, "medium": 3, "light": 0}).json()["lines"]
    assert (line["springs"], line["error"], line["impossible"]) == ("MMM", -2, True)
    assert line["says"] == "nearest there is, two units lighter: easier"


def test_a_row_of_the_mat_needs_no_springs(as_instructor):
    (line,) = ask(as_instructor, exercises=["M-01"], inventory=STOCK).json()["lines"]
    assert (line["reference"], line["springs"], line["deed"]) == (None, None, "")


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({"exercises": ["R-NOPE"], "inventory": STOCK}, "unknown_exercise"),
        ({"exercises": ["R-FW1"]}, "one_of_two"),
        ({"exercises": ["R-FW1"], "inventory": STOCK, "machine_id": 1}, "one_of_two"),
        ({"exercises": ["R-FW1"], "counts": [1, 2], "inventory": STOCK}, "too_many_counts"),
        ({"exercises": ["R-FW1"], "inventory": {"heavy": 0, "medium": 0, "light": 0}}, "no_springs"),
    ],
)
def test_what_cannot_be_answered_is_refused_with_its_reason(as_instructor, body, code):
    answer = ask(as_instructor, **body)
    assert answer.status_code == 409
    assert [reason["code"] for reason in answer.json()["reasons"]] == [code]


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"exercises": []},
        {"exercises": ["R-FW1"], "inventory": {"heavy": -1, "medium": 0, "light": 0}},
        {"exercises": ["R-FW1"], "machine_id": 10**30},
        {"exercises": ["R-FW1"] * 81, "inventory": STOCK},
    ],
)
def test_a_wrong_shape_is_answered_field_by_field(as_instructor, body):
    assert ask(as_instructor, **body).status_code == 400


def test_a_machine_that_is_none_is_not_found_and_the_desk_may_not_ask(as_instructor, as_desk):
    assert ask(as_instructor, exercises=["R-FW1"], machine_id=999_999).status_code == 404
    assert ask(as_desk, exercises=["R-FW1"], inventory=STOCK).status_code == 403
