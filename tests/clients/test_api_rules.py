"""Trying a case over the API: reference ids in, outcome and path out; wrong ids named where they stand."""

import pytest

from clients import models, queries
from clients.api import trying as api
from tests import make_clients as make

pytestmark = pytest.mark.django_db
ADDRESS = "/api/rules/try/"


@pytest.fixture(autouse=True)
def rules() -> None:
    make.load_reference()


def ask(client, case):
    return client.post(ADDRESS, case, content_type="application/json")


def test_the_documented_case_of_thin_bones_is_clear_with_its_limits(as_instructor):
    # Source: domain text, section 7, the fourth example.
    answer = ask(as_instructor, api.BONES.value)
    body = answer.json()
    assert answer.status_code == 200 and body["outcome"] == "clear"
    avoided = {one["demand"] for one in body["limits"] if one["level"] == "avoid"}
    assert avoided == {"flex_loaded", "flex_end", "rot_flex", "neck_weight", "rolling"}
    adapted = {one["demand"] for one in body["limits"] if one["level"] == "adapt"}
    assert adapted == {"rotation", "sidebend", "straining", "impact", "pivot"}
    assert body["rules"]["reviewed_on"] is None
    assert all(chain["sources"] and chain["strength"] for one in body["limits"] for chain in one["chains"])


def test_the_documented_case_of_diabetes_asks_for_a_letter_at_leaf_5(as_instructor):
    # Source: riebe2015 as read in the clearance table; domain text, section 4.1, the second example.
    body = ask(as_instructor, api.SUGAR.value).json()
    assert body["outcome"] == "refer"
    table = next(gate for gate in body["path"] if gate["name"] == "Clearance table")
    assert [reason["rule_id"] for reason in table["reasons"]] == ["leaf 5"]


def test_what_is_not_told_is_never_clear(as_instructor):
    assert ask(as_instructor, {}).json()["outcome"] == "incomplete"


def test_the_gates_stand_in_the_order_in_which_they_are_read(as_instructor):
    names = [gate["name"] for gate in ask(as_instructor, {}).json()["path"]]
    assert names[:4] == ["Red flags", "Today’s state, pressure and pulse", "Pregnancy", "Clearance table"]


@pytest.mark.parametrize(
    ("case", "at"),
    [
        ({"conditions": [{"condition": "C99"}]}, ("conditions", "0", "condition")),
        ({"conditions": [{"condition": "C01"}, {"condition": "C98"}]}, ("conditions", "1", "condition")),
        (
            {"on": "2031-03-12", "conditions": [{"condition": "C01", "since": "2031-04-01"}]},
            ("conditions", "0", "since"),
        ),
        ({"symptoms": ["S99"]}, ("symptoms",)),
        ({"flags": [{"flag": "F99"}]}, ("flags",)),
        ({"pregnancy": {"gates": ["P99"]}}, ("pregnancy", "gates")),
        ({"on": "2031-03-12", "pregnancy": {"due_on": "2033-01-01"}}, ("pregnancy", "due_on")),
        ({"restrictions": [{"demands": ["flying"]}]}, ("restrictions", "0", "demands")),
        ({"letters": [{"allows": ["flying"]}]}, ("letters", "0", "allows")),
        ({"letters": [{"answers": ["leaf 99"]}]}, ("letters", "0", "answers")),
        ({"on": "2031-03-12", "written_on": "2031-03-13"}, ("written_on",)),
        ({"on": "never"}, ("on",)),
        ({"on": "9999-12-31"}, ("on",)),
        ({"readings": {"pressures": [{"systolic": 4000, "diastolic": 20}]}}, ("readings", "pressures")),
        ({"diseases": ["plague"]}, ("diseases",)),
    ],
)
def test_what_cannot_be_is_refused_naming_its_field(as_instructor, case, at):
    answer = ask(as_instructor, case)
    assert answer.status_code == 400
    body = answer.json()
    for part in at:
        assert part in body, answer.json()
        body = body[part]
    assert body


def test_a_letter_answers_the_gate_it_names_and_relaxes_what_it_allows(as_instructor):
    letter = {"dated": "2031-03-01", "holds_until": "2031-06-01", "answers": ["leaf 5"], "allows": ["straining"]}
    body = ask(as_instructor, api.SUGAR.value | {"letters": [letter]}).json()
    assert body["outcome"] == "clear_limited"
    assert [one["letter"] for one in body["relaxed"]] == ["letter 1"]
    assert "straining" not in {one["demand"] for one in body["limits"]}


def test_nothing_is_stored(as_instructor):
    ask(as_instructor, api.BONES.value)
    assert not models.Screening.objects.exists() and not models.Client.objects.exists()


def test_another_version_is_asked_by_its_number(as_owner):
    body = ask(as_owner, api.BONES.value | {"version": queries.rules_in_force().id}).json()
    assert body["rules"]["id"] == queries.rules_in_force().id
    assert ask(as_owner, {"version": 99_999}).status_code == 404


def test_the_desk_does_not_ask_the_rules(as_desk):
    assert ask(as_desk, {}).status_code == 403


def test_the_schema_shows_examples_that_can_be_sent(as_owner):
    operation = as_owner.get("/api/schema.json").json()["paths"][ADDRESS]["post"]
    examples = operation["requestBody"]["content"]["application/json"]["examples"]
    assert len(examples) == 2
    for one in examples.values():
        assert ask(as_owner, one["value"]).status_code == 200
