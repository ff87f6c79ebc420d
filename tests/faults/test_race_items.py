"""Eight processes want the one box: one gets it, the others hear who has it, and nobody waits for a deadlock check."""

from functools import partial

import pytest

from scheduling import actions, models
from scheduling.actions import items
from scheduling.rules.items import ItemKind
from tests import make_scheduling as at_work
from tests.faults.test_race import deadlocks, race
from tests.make_scheduling import NOW, span

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]

RACERS = 8


@pytest.fixture
def house():
    made = at_work.house(reformers=RACERS)
    for number, name in enumerate(at_work.names()[50 : 50 + RACERS - 2]):
        made.teachers.append(at_work.teacher(name, f"R{number}", made))
    return made


def places(house):
    return [
        at_work.book(house, at_work.client(name), span(11), machine=number, teacher=number)
        for number, name in enumerate(at_work.names()[:RACERS])
    ]


def box(house):
    return items.add_item(studio_id=house.studio.pk, kind=ItemKind.BOX, label="Box 1", by=None, now=NOW)


def test_one_of_eight_gets_the_box_and_the_others_hear_who_has_it(house):
    item, before = box(house), deadlocks()
    hold = partial(items.hold_item, item_id=item.pk, span=span(11, minutes=15), by=None, now=NOW)
    found = race([partial(hold, place.pk) for place in places(house)])
    assert found.count("done") == 1
    assert all("item_taken" in answer and "has Box 1" in answer for answer in found if answer != "done")
    assert models.ItemHold.objects.filter(live=True).count() == 1
    assert deadlocks() == before


def test_lessons_that_move_onto_one_box_at_once_share_it_out_and_lose_no_lesson(house):
    item, rows = box(house), places(house)
    for number, place in enumerate(rows):
        models.ItemHold.objects.all().update(live=False)
        items.hold_item(place.pk, item_id=item.pk, span=span(11, minutes=15), by=None, now=NOW)
        assert models.ItemHold.objects.filter(live=True).count() == 1, number
    before = deadlocks()
    move = partial(actions.move_lesson, span=span(14), by=None, now=NOW)
    found = race([partial(move, place.lesson_id) for place in rows])
    assert found == ["done"] * RACERS
    assert models.ItemHold.objects.filter(live=True).count() == 1
    assert models.ItemHold.objects.count() == RACERS
    assert deadlocks() == before
