"""Clients over the API."""

import uuid

import pytest

from clients import models
from tests import make_clients as make

pytestmark = pytest.mark.django_db


def post(client, address, body, **headers):
    return client.post(address, body, content_type="application/json", headers=headers)


def test_a_client_is_added_and_read_back_without_a_word_of_health(as_desk):
    made = post(as_desk, "/api/clients/", {"name": "Ruvena Tarnelow", "email": "ruvena@mail.example"})
    assert made.status_code == 201
    card = as_desk.get(f"/api/clients/{made.json()['id']}/").json()
    assert card == made.json()
    assert card["form"] == {"word": "form not current", "missing": ["form"], "valid_until": None, "signed_on": None}
    assert not {"outcome", "limits", "conditions", "reasons"} & set(card)


def test_a_look_alike_answers_409_with_the_way_on(as_desk):
    first = make.client("Ruvena Tarnelow")
    refused = post(as_desk, "/api/clients/", {"name": "Ruvena Tarnelow"})
    assert refused.status_code == 409
    assert refused.json()["reasons"][0]["code"] == "looks_like"
    assert str(first.pk) in refused.json()["reasons"][0]["allowed"]
    again = post(as_desk, "/api/clients/", {"name": "Ruvena Tarnelow", "different_from": [str(first.pk)]})
    assert again.status_code == 201


def test_one_key_adds_one_client(as_desk):
    body, key = {"name": "Ruvena Tarnelow"}, {"Idempotency-Key": str(uuid.uuid4())}
    first, second = (post(as_desk, "/api/clients/", body, **key) for _ in range(2))
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json() == second.json()
    assert models.Client.objects.count() == 1


def test_a_search_finds_by_any_part_and_keeps_the_name_out_of_the_address(as_desk):
    make.client("Áine Núñez")
    found = post(as_desk, "/api/clients/find/", {"text": "nune"}).json()["clients"]
    assert [row["name"] for row in found] == ["Áine Núñez"]
    assert as_desk.get("/api/clients/find/?text=nune").status_code == 405


def test_all_clients_are_reached_page_by_page_and_each_once(as_desk):
    made = {str(make.client("Cccc " + letter * 9).pk) for letter in "abcde"}
    seen, after = [], ""
    while after is not None:
        page = as_desk.get("/api/clients/", {"limit": 2} | ({"after": after} if after else {})).json()
        seen += [row["id"] for row in page["clients"]]
        after = page["next_after"]
    assert sorted(seen) == sorted(made)


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({}, 400),
        ({"name": ""}, 400),
        ({"name": "R", "born_on": "2026-02-31"}, 400),
        ({"name": "R", "born_on": "2999-01-01"}, 409),
        ({"name": "R", "email": "nowhere"}, 409),
        ({"name": "R", "home_id": 987654}, 409),
        ({"name": "a\u0000b"}, 400),
        ({"name": "R", "different_from": ["x"]}, 400),
        ([], 400),
    ],
)
def test_what_cannot_be_right_is_refused_and_adds_nobody(as_desk, body, status):
    assert post(as_desk, "/api/clients/", body).status_code == status
    assert not models.Client.objects.exists()


def test_only_the_desk_and_the_owner_add_clients(as_instructor, as_owner, client):
    assert post(as_instructor, "/api/clients/", {"name": "R"}).status_code == 403
    assert post(client, "/api/clients/", {"name": "R"}).status_code == 401
    assert post(as_owner, "/api/clients/", {"name": "R"}).status_code == 201


def test_a_card_that_is_not_there_is_404(as_desk):
    assert as_desk.get(f"/api/clients/{uuid.uuid4()}/").status_code == 404
