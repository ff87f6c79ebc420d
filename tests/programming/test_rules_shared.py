"""What a line needs of the things machines share, and for which quarter hours."""

from datetime import UTC, datetime, timedelta

from programming.rules.shared import Use, Want, items_of, wants, wants_of_group
from scheduling.rules.items import ItemKind
from studio.rules import ApparatusKind, Span
from tests.programming.reference import REPERTOIRE

NINE = datetime(2026, 3, 2, 9, tzinfo=UTC)


def quarter(first, last):
    return Span(NINE + timedelta(minutes=15 * first), NINE + timedelta(minutes=15 * last))


def needed(exercise_id, own=ApparatusKind.REFORMER):
    row = REPERTOIRE[exercise_id]
    return items_of(row.setup, row.apparatus, own)


def test_the_short_box_needs_a_box_and_footwork_nothing():
    assert needed("R-SB1") == {ItemKind.BOX}
    assert needed("R-FW1") == frozenset()


def test_the_roll_back_bar_of_the_tower_and_the_chair_are_shared_unless_the_chair_is_her_own():
    bars = [row for row in REPERTOIRE.values() if row.apparatus is ApparatusKind.TOWER and "bar" in row.setup]
    assert bars
    assert all(needed(row.id) == {ItemKind.TOWER_BAR} for row in bars)
    assert needed("C-01") == {ItemKind.CHAIR}
    assert needed("C-01", ApparatusKind.CHAIR) == frozenset()


LESSON = Span(NINE, NINE + timedelta(minutes=55))


def test_uses_in_touching_quarters_are_one_want_and_far_ones_two():
    uses = [Use(ItemKind.BOX, 60, 600), Use(ItemKind.BOX, 1000, 100), Use(ItemKind.BOX, 2800, 60)]
    assert wants([*uses, Use(ItemKind.CHAIR, 0, 30)], LESSON) == (
        Want(ItemKind.BOX, quarter(0, 2)),
        Want(ItemKind.BOX, quarter(3, 4)),
        Want(ItemKind.CHAIR, quarter(0, 1)),
    )


def test_what_runs_over_the_end_of_the_lesson_wants_only_its_last_quarter():
    assert wants([Use(ItemKind.BOX, 5000, 300)], LESSON) == (Want(ItemKind.BOX, quarter(3, 4)),)


def test_a_group_that_hands_one_box_on_wants_one():
    rounds = [{"ada": [Use(ItemKind.BOX, 0, 200)]}, {"ben": [Use(ItemKind.BOX, 200, 200)]}]
    assert wants_of_group(rounds, LESSON) == {"ada": (Want(ItemKind.BOX, quarter(0, 1)),)}


def test_a_group_wants_as_many_boxes_as_its_fullest_round_uses():
    rounds = [
        {"ada": [Use(ItemKind.BOX, 0, 200)]},
        {"ben": [Use(ItemKind.BOX, 200, 800)], "cem": [Use(ItemKind.BOX, 200, 800)]},
    ]
    found = wants_of_group(rounds, LESSON)
    assert found["ada"] == (Want(ItemKind.BOX, quarter(0, 1)),)
    assert found["ben"] == (Want(ItemKind.BOX, quarter(0, 2)),)
    assert found["cem"] == (Want(ItemKind.BOX, quarter(1, 2)),)
