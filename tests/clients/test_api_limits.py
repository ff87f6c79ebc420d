"""A client's limits over the API: with care or a reason in the body, each read on record."""

import pytest
import time_machine

from studio import models as studio_models
from tests import make_clients as make

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture(autouse=True)
def today():
    with time_machine.travel(make.NOW, tick=False):
        yield


@pytest.fixture
def thin_bones(db):
    client = make.client()
    make.signed_form(client, {"H09": ["yes"], "H09.conditions": ["C01"]})
    return client


def ask(browser, client, **body):
    return browser.post(f"/api/clients/{client.pk}/limits/", body, content_type="application/json")


def whys():
    return list(studio_models.AuditEntry.objects.filter(verb="read_limits").values_list("why", flat=True))


def test_an_instructor_with_care_reads_each_limit_with_its_chain(as_instructor, instructor, thin_bones):
    make.care(thin_bones, instructor)
    sheet = ask(as_instructor, thin_bones).json()
    rolling = next(one for one in sheet["limits"] if one["demand"] == "rolling")
    assert (sheet["outcome"], sheet["is_reviewed"], rolling["level"]) == ("clear", False, "avoid")
    assert rolling["chains"][0]["condition"].startswith("Osteoporosis")
    assert rolling["chains"][0]["sources"][0]["note"]
    assert whys() == ["care"]


def test_without_care_a_reason_is_asked_for_and_kept(as_instructor, as_owner, thin_bones):
    refused = ask(as_instructor, thin_bones)
    assert (refused.status_code, refused.json()["reasons"][0]["code"]) == (409, "say_why")
    assert ask(as_owner, thin_bones, why="a complaint").status_code == 200
    assert whys() == ["a complaint"]


def test_the_desk_reads_none(as_desk, thin_bones):
    assert ask(as_desk, thin_bones, why="please").status_code == 403
    assert whys() == []


def test_a_client_without_a_form_has_no_outcome(as_instructor, instructor):
    client = make.client()
    make.care(client, instructor)
    assert ask(as_instructor, client).json()["outcome"] is None


def test_an_address_holds_no_reason(as_instructor, thin_bones):
    assert as_instructor.get(f"/api/clients/{thin_bones.pk}/limits/?why=curious").status_code == 405
    assert ask(as_instructor, thin_bones, why="x" * 201).status_code == 400
