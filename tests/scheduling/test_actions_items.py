"""Shared items: kept by a studio, held by the quarter hour, taken along when their place moves."""

from datetime import timedelta

import pytest

from scheduling import actions, models
from scheduling.actions import items
from scheduling.actions.booking import range_for
from scheduling.queries.house import range_of
from scheduling.rules.items import ItemKind
from scheduling.rules.places import LessonKind, PlaceState
from studio.rules import Refused, Span
from tests import make_scheduling as at_work
from tests.make_scheduling import NOW, at, span

pytestmark = pytest.mark.django_db
BOX = ItemKind.BOX


@pytest.fixture
def house():
    return at_work.house()


@pytest.fixture
def box(house):
    return keep(house, "Box 1")


@pytest.fixture
def place(house):
    return at_work.book(house, at_work.client("Pranvi Somadur"), span(11))


@pytest.fixture
def other(house):
    return at_work.book(house, at_work.client("Oswin Threll"), span(11), machine=1, teacher=1)


def keep(house, label, kind=BOX):
    return items.add_item(studio_id=house.studio.pk, kind=kind, label=label, by=None, now=NOW)


def hold(place, item, when=None):
    return items.hold_item(place.pk, item_id=item.pk, span=when or span(11, minutes=15), by=None, now=NOW)


def ask(*places, when=None, kind=BOX):
    return items.hold_for_program({one.pk: [(kind, when or span(11, minutes=15))] for one in places}, by=None, now=NOW)


def live(place):
    rows = models.ItemHold.objects.filter(place=place, live=True).order_by("during")
    return [(row.item.label, range_of(row.during)) for row in rows]


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


def test_a_box_is_held_for_the_quarter_hours_a_use_touches(box, place):
    hold(place, box, Span(at(11, 5), at(11, 20)))
    assert live(place) == [("Box 1", span(11, minutes=30))]


def test_nobody_else_holds_it_then_and_the_refusal_says_who_does(box, place, other):
    hold(place, box)
    with pytest.raises(Refused) as refused:
        hold(other, box)
    assert codes(refused) == {"item_taken"}
    assert "Pranvi Somadur has Box 1, 11:00 to 11:15." in {reason.says for reason in refused.value.reasons}
    hold(other, box, span(11, 15, minutes=15))


def test_the_database_refuses_two_holds_at_once_even_without_the_action(box, place, other):
    hold(place, box)
    with pytest.raises(Exception, match="scheduling_itemhold_item_free"):
        models.ItemHold.objects.create(
            item=box, place=other, during=range_for(span(11, minutes=30)), source="hand", made_at=NOW
        )


def test_quarter_hours_outside_the_lesson_and_items_of_nobody_are_refused(box, place):
    with pytest.raises(Refused) as refused:
        hold(place, box, span(12, minutes=15))
    assert codes(refused) == {"outside_lesson"}
    items.put_away(box.pk, by=None, now=NOW)
    with pytest.raises(Refused) as refused:
        hold(place, box)
    assert codes(refused) == {"not_kept"}


def test_a_label_is_there_once(house, box):
    with pytest.raises(Refused) as refused:
        keep(house, "Box 1")
    assert codes(refused) == {"label_taken"}


def test_what_is_held_ahead_is_not_put_away(box, place):
    held = hold(place, box)
    with pytest.raises(Refused) as refused:
        items.put_away(box.pk, by=None, now=NOW)
    assert codes(refused) == {"still_held"}
    items.release_hold(held.pk, by=None, now=NOW)
    assert items.put_away(box.pk, by=None, now=NOW).in_service_to is not None
    assert items.bring_out(box.pk, by=None, now=NOW).in_service_to is None


def test_programs_get_different_boxes_and_who_gets_none_is_told(house, box, place, other):
    assert ask(place, other) == (items.Unheld(max(place.pk, other.pk), BOX, span(11, minutes=15)),)
    keep(house, "Box 2")
    assert ask(place, other) == ()
    assert {label for label, _ in live(place) + live(other)} == {"Box 1", "Box 2"}


def test_asking_again_replaces_what_a_program_held_and_leaves_what_a_hand_held(house, box, place):
    second = keep(house, "Box 2")
    hold(place, second, span(11, 45, minutes=15))
    ask(place)
    ask(place, when=span(11, 15, minutes=15))
    assert live(place) == [("Box 1", span(11, 15, minutes=15)), ("Box 2", span(11, 45, minutes=15))]


def test_what_a_hand_holds_already_serves_the_program(box, place):
    hold(place, box, span(11, minutes=30))
    assert ask(place) == ()
    assert len(live(place)) == 1


def test_a_kind_the_studio_does_not_share_is_not_counted(box, place):
    assert ask(place, kind=ItemKind.CHAIR) == ()
    assert live(place) == []


def test_a_move_takes_the_hold_along(box, place):
    hold(place, box, span(11, 15, minutes=15))
    actions.move_lesson(place.lesson_id, span=span(14), by=None, now=NOW)
    assert live(place) == [("Box 1", span(14, 15, minutes=15))]


def test_a_move_to_where_the_box_is_held_takes_another_or_says_that_there_is_none(house, box, place):
    later = at_work.book(house, at_work.client("Oswin Threll"), span(14), machine=1, teacher=1)
    hold(later, box, span(14, minutes=15))
    hold(place, box)
    actions.move_lesson(place.lesson_id, span=span(14), by=None, now=NOW)
    assert live(place) == []
    assert models.ItemHold.objects.get(place=place).live is False
    keep(house, "Box 2")
    actions.move_lesson(place.lesson_id, span=span(15), by=None, now=NOW)
    actions.move_lesson(place.lesson_id, span=span(14), by=None, now=NOW)
    assert live(place) == [("Box 2", span(14, minutes=15))]


def test_cancelling_lets_go_and_undoing_asks_again(box, place, other):
    hold(place, box)
    actions.mark_place(place.pk, state=PlaceState.CANCELLED, by=None, now=NOW)
    assert live(place) == []
    actions.undo_place(place.pk, by=None, now=NOW + timedelta(minutes=1))
    assert live(place) == [("Box 1", span(11, minutes=15))]
    actions.mark_place(place.pk, state=PlaceState.CANCELLED, by=None, now=NOW)
    hold(other, box)
    actions.undo_place(place.pk, by=None, now=NOW + timedelta(minutes=1))
    assert live(place) == []
    assert live(other) == [("Box 1", span(11, minutes=15))]


def test_a_whole_lesson_that_is_cancelled_and_brought_back_keeps_what_it_held(house, box):
    group = at_work.book(house, at_work.client("Noorin Bevlan"), span(9), kind=LessonKind.SMALL_GROUP)
    hold(group, box, span(9, minutes=15))
    actions.cancel_lesson(group.lesson_id, by=None, now=NOW)
    assert live(group) == []
    actions.bring_back_lesson(group.lesson_id, by=None, now=NOW)
    assert live(group) == [("Box 1", span(9, minutes=15))]


def test_who_missed_the_lesson_holds_nothing(box, place):
    hold(place, box)
    actions.mark_place(place.pk, state=PlaceState.MISSED, by=None, now=at(11, 20))
    assert live(place) == []
