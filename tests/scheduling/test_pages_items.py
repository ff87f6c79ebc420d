"""Pages of what is shared: the owner's list, who has what today, what one place holds."""

import pytest
from django.urls import reverse

from scheduling import models
from scheduling.actions import items
from scheduling.queries import items as item_queries
from scheduling.rules.items import ItemKind
from studio.rules import Role
from tests import make
from tests import make_scheduling as at_work
from tests.make_scheduling import DAY, NOW, span

pytestmark = pytest.mark.django_db


@pytest.fixture
def house(time_machine):
    time_machine.move_to(NOW, tick=False)
    return at_work.house()


@pytest.fixture
def box(house):
    return items.add_item(studio_id=house.studio.pk, kind=ItemKind.BOX, label="Box 1", by=None, now=NOW)


@pytest.fixture
def place(house):
    return at_work.book(house, at_work.client("Pranvi Somadur"), span(11))


@pytest.fixture
def as_owner(client):
    client.force_login(make.person(Role.OWNER, name="Teodora Quist"))
    return client


@pytest.fixture
def as_desk(client):
    client.force_login(make.person(Role.DESK, name="Wilma Ostrander"))
    return client


def url(name, *args):
    return reverse(f"scheduling:{name}", args=args)


def test_the_owner_adds_a_box_puts_it_away_and_takes_it_out_again(as_owner, house):
    told = {"label": "Box 1", "kind": "box", "studio": house.studio.pk}
    assert as_owner.post(url("items"), told).status_code == 302
    item = models.Item.objects.get()
    assert "Box 1" in as_owner.get(url("items")).content.decode()
    as_owner.post(url("put-item-away", item.pk))
    assert "put away" in as_owner.get(url("items")).content.decode()
    as_owner.post(url("bring-item-out", item.pk))
    item.refresh_from_db()
    assert item.in_service_to is None


def test_a_label_that_is_there_is_said_beside_the_field(as_owner, house, box):
    answer = as_owner.post(url("items"), {"label": "Box 1", "kind": "box", "studio": house.studio.pk})
    assert answer.status_code == 422
    assert "There is a Box 1 in Tannery Yard already." in answer.content.decode()


def test_what_is_held_is_not_put_away_and_the_page_says_for_whom(as_owner, box, place):
    items.hold_item(place.pk, item_id=box.pk, span=span(11, minutes=15), by=None, now=NOW)
    answer = as_owner.post(url("put-item-away", box.pk))
    assert answer.status_code == 409
    assert "Pranvi Somadur has Box 1, 11:00 to 11:15." in answer.content.decode()


def test_the_desk_holds_a_box_sees_it_on_the_slip_and_lets_go_again(as_desk, box, place):
    assert as_desk.post(url("place-items", place.pk), {"item": box.pk, "starts": 1, "ends": 2}).status_code == 302
    assert "Box 1 11:15 to 11:45" in as_desk.get(url("place", place.pk)).content.decode()
    day = as_desk.get(url("items-day"), {"day": DAY.isoformat()}).content.decode()
    assert "11:15 to 11:45" in day and "Pranvi Somadur" in day
    as_desk.post(url("release-hold", models.ItemHold.objects.get().pk))
    assert "11:15 to 11:45" not in as_desk.get(url("items-day"), {"day": DAY.isoformat()}).content.decode()


def test_a_box_that_somebody_has_is_refused_beside_the_field(as_desk, house, box, place):
    items.hold_item(place.pk, item_id=box.pk, span=span(11, minutes=15), by=None, now=NOW)
    other = at_work.book(house, at_work.client("Oswin Threll"), span(11), machine=1, teacher=1)
    answer = as_desk.post(url("place-items", other.pk), {"item": box.pk, "starts": 0, "ends": 0})
    assert answer.status_code == 422
    assert "Pranvi Somadur has Box 1" in answer.content.decode()


def test_an_end_before_the_beginning_is_said(as_desk, box, place):
    answer = as_desk.post(url("place-items", place.pk), {"item": box.pk, "starts": 2, "ends": 1})
    assert answer.status_code == 422
    assert "The end is not after the beginning." in answer.content.decode()


def test_a_studio_that_shares_nothing_shows_nothing_of_it_on_the_slip(as_desk, place):
    assert "Box, pole or bar" not in as_desk.get(url("place", place.pk)).content.decode()


def test_a_lesson_counts_on_what_nobody_else_holds_at_any_time_of_it(house, box, place):
    group = at_work.book(house, at_work.client("Oswin Threll"), span(11, 30), machine=1, teacher=1)
    assert item_queries.stock(group.lesson_id) == {"box": 1}
    items.hold_item(place.pk, item_id=box.pk, span=span(11, 30, minutes=15), by=None, now=NOW)
    assert item_queries.stock(group.lesson_id) == {"box": 0}
    assert item_queries.stock(place.lesson_id) == {"box": 1}


def test_the_day_of_items_asks_the_same_of_the_database_for_one_hold_and_for_many(
    house, box, django_assert_max_num_queries
):
    for hour in range(8, 14):
        held = at_work.book(house, at_work.client(at_work.names()[hour]), span(hour))
        items.hold_item(held.pk, item_id=box.pk, span=span(hour, minutes=15), by=None, now=NOW)
    with django_assert_max_num_queries(3):
        (row,) = item_queries.items_of_day(house.studio.pk, DAY)
    assert len(row.holds) == 6


@pytest.mark.parametrize("typed", ["a\x00b", "9" * 400, "-1", "", "x" * 20_000, "שלום"])
def test_whatever_is_typed_into_the_forms_is_answered_with_a_word(as_owner, box, place, typed):
    told = {"label": typed, "kind": typed, "studio": typed}
    assert as_owner.post(url("items"), told).status_code == 422
    held = {"item": typed, "starts": typed, "ends": typed}
    assert as_owner.post(url("place-items", place.pk), held).status_code == 422
    assert as_owner.get(url("items-day"), {"day": typed}).status_code == 200
