"""The API: the day, openings, booking with a key, what becomes of a place."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest
import time_machine
from django.urls import reverse

from scheduling import actions, models
from scheduling.rules.places import PlaceState
from tests import make_scheduling as at_work
from tests.make_scheduling import DAY, span

pytestmark = pytest.mark.django_db
MORNING = datetime(2026, 3, 12, 8, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def in_the_morning():
    with time_machine.travel(MORNING, tick=False):
        yield


@pytest.fixture
def house():
    return at_work.house()


@pytest.fixture
def pranvi():
    return at_work.client("Pranvi Somadur")


def url(name: str, *args: object) -> str:
    return reverse(f"scheduling:{name}", args=args)


def wish(house, who, **changed) -> dict[str, object]:
    return {
        "client_id": str(who.pk),
        "apparatus_id": house.reformers[0].pk,
        "instructor_id": house.teachers[0].pk,
        "start": span(11).start.isoformat(),
        "minutes": 55,
        "kind": "private",
        **changed,
    }


def book(client, body, key: str = ""):
    headers = {"Idempotency-Key": key} if key else {}
    return client.post(url("api-places"), body, content_type="application/json", headers=headers)


def test_a_place_is_booked_and_read_back(as_desk, house, pranvi):
    answer = book(as_desk, wish(house, pranvi))
    assert answer.status_code == 201
    body = answer.json()
    assert (body["client"], body["apparatus"], body["state"]) == ("Pranvi Somadur", "Reformer 1", "booked")
    assert body["start"] == "2026-03-12T11:00:00Z"
    assert as_desk.get(url("api-place", body["id"])).json() == body


def test_wall_times_carry_the_offset_of_their_studio(as_desk, pranvi):
    delhi = at_work.house("Asia/Kolkata", name="Lantern Court")
    start = span(15, zone=delhi.zone).start
    body = book(as_desk, wish(delhi, pranvi, start=start.isoformat())).json()
    assert body["start"] == "2026-03-12T15:00:00+05:30"


def test_the_same_key_books_once_and_answers_the_same(as_desk, house, pranvi):
    key = str(uuid4())
    first, again = book(as_desk, wish(house, pranvi), key), book(as_desk, wish(house, pranvi), key)
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json() and models.Place.objects.count() == 1


def test_a_refused_key_may_be_tried_again(as_desk, house, pranvi):
    key = str(uuid4())
    taken = at_work.book(house, at_work.client("Oswin Threll"), span(11))
    assert book(as_desk, wish(house, pranvi), key).status_code == 409
    actions.mark_place(taken.pk, state=PlaceState.CANCELLED, by=None, now=MORNING)
    assert book(as_desk, wish(house, pranvi), key).status_code == 201


def test_a_key_for_another_request_is_refused(as_desk, house, pranvi):
    key = str(uuid4())
    book(as_desk, wish(house, pranvi), key)
    answer = book(as_desk, wish(house, pranvi, minutes=40), key)
    assert answer.status_code == 409 and answer.json()["reasons"][0]["code"] == "key_used"


def test_a_taken_time_answers_409_with_who_and_alternatives(as_desk, house, pranvi):
    at_work.book(house, at_work.client("Oswin Threll"), span(11))
    answer = book(as_desk, wish(house, pranvi))
    codes = {reason["code"]: reason for reason in answer.json()["reasons"]}
    assert answer.status_code == 409 and set(codes) == {"machine_taken", "instructor_taken"}
    assert "Oswin Threll" in codes["machine_taken"]["says"]
    assert codes["machine_taken"]["allowed"].startswith("Free: ")


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({"client_id": "00000000-0000-4000-8000-000000000000"}, 404),
        ({"client_id": "nobody"}, 400),
        ({"start": "9999-12-31T23:59:59Z"}, 409),
        ({"start": "2026-03-12T07:00:00Z"}, 409),
        ({"minutes": 0}, 400),
        ({"kind": "crowd"}, 400),
        ({"apparatus_id": 2**40}, 400),
    ],
)
def test_bad_bookings_are_4xx(as_desk, house, pranvi, changed, status):
    assert book(as_desk, wish(house, pranvi, **changed)).status_code == status


def test_a_state_is_set_and_undone(as_desk, house, pranvi):
    place = at_work.book(house, pranvi, span(11))
    address = url("api-place-state", place.pk)
    for state in ("here", "booked", "cancelled"):
        answer = as_desk.post(address, {"state": state}, content_type="application/json")
        assert answer.status_code == 200
    # Three hours before, with a policy of twelve: the clock says late.
    assert answer.json()["state"] == "cancelled_late"
    again = as_desk.post(address, {"state": "missed"}, content_type="application/json")
    assert again.status_code == 409


def test_openings_are_listed_with_their_reasons(as_desk, house, pranvi):
    answer = as_desk.get(url("api-openings"), {"minutes": 55, "client_id": str(pranvi.pk), "limit": 3})
    rows = answer.json()["openings"]
    assert answer.status_code == 200 and len(rows) == 3
    assert all(row["reasons"] and row["studio"] == "Tannery Yard" for row in rows)


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ({}, 400),
        ({"minutes": 3}, 400),
        ({"minutes": 55, "earliest": "14:00", "latest": "09:00"}, 409),
        ({"minutes": 55, "first_day": "0001-01-01"}, 409),
        ({"minutes": 55, "studio_id": 12345}, 200),
    ],
)
def test_odd_searches_are_answered(as_desk, house, query, status):
    assert as_desk.get(url("api-openings"), query).status_code == status


def test_openings_of_an_empty_house_are_none(as_desk):
    assert as_desk.get(url("api-openings"), {"minutes": 55}).json() == {"openings": []}


def test_the_day_lists_rooms_machines_and_places(as_instructor, house, pranvi):
    at_work.book(house, pranvi, span(11))
    body = as_instructor.get(url("api-day", DAY.isoformat())).json()
    machine = body["rooms"][0]["machines"][0]
    assert (machine["name"], machine["springs"]) == ("Reformer 1", "1L 2M 2H")
    assert [place["client"] for place in machine["places"]] == ["Pranvi Somadur"]


@pytest.mark.parametrize("day", ["2026-02-30", "today", "0001-01-01"])
def test_a_day_that_is_none_is_not_there(as_desk, house, day):
    answer = as_desk.get(url("api-day", day))
    assert answer.status_code == 404 and answer["Content-Type"] == "application/json"


def test_nobody_is_told_to_log_in(client, house, pranvi):
    assert client.get(url("api-day", DAY.isoformat())).status_code == 401
    assert book(client, wish(house, pranvi)).status_code == 401


def test_an_instructor_does_not_book(as_instructor, house, pranvi):
    assert book(as_instructor, wish(house, pranvi)).status_code == 403
