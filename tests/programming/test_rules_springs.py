"""Reference counts on real machines. Units 1, 2, 3 and tolerance 1 are studio defaults, as is the table of machines."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programming.rules.springs import (
    SpringSet,
    change_words,
    error_of,
    error_words,
    fitting_sets,
    own_springs,
    translate,
)
from tests.programming.reference import REPERTOIRE
from tests.reference import table

TRANSLATIONS = table("spring_translation")
INVENTORIES = st.builds(SpringSet, st.integers(0, 3), st.integers(0, 4), st.integers(0, 2)).filter(lambda s: s.count)
STEP_DOWNS = st.lists(st.integers(1, 4), min_size=1, max_size=5).map(lambda counts: sorted(counts, reverse=True))


def inventory_of(row):
    return SpringSet(int(row["heavy"]), int(row["medium"]), int(row["light"]))


def test_stomach_massage_4_3_2_2_steps_down_by_removal_without_error():
    found = translate([4, 3, 2, 2], SpringSet.of("HHMML"))
    assert [springs.letters for springs in found.sets] == ["HMML", "HML", "HL", "HL"]
    assert found.errors == (0, 0, 0, 0)
    assert not found.forced and not found.impossible and not found.ties


@pytest.mark.parametrize("row", TRANSLATIONS, ids=lambda row: f"{row['machine']}-{row['reference_count']}")
def test_each_machine_of_the_table_gets_the_sets_of_the_table(row):
    reference, inventory = int(row["reference_count"]), inventory_of(row)
    sets = fitting_sets(reference, inventory)
    exact = {springs.letters for springs in sets if error_of(reference, springs) == 0}
    assert exact == set(filter(None, row["exact_sets"].split(";")))
    assert {springs.letters for springs in sets} - exact == set(filter(None, row["near_sets"].split(";")))
    found = translate([reference], inventory)
    assert (found.impossible == ()) == (row["possible"] == "y")
    if row["preferred_set"]:
        assert found.sets[0].letters == row["preferred_set"]


def test_a_tie_is_shown_to_the_instructor():
    found = translate([2], SpringSet.of("HHMML"))
    assert found.sets == (SpringSet.of("HL"),)
    assert found.ties == ((SpringSet.of("MM"),),)


def test_a_machine_too_weak_gives_its_nearest_set_and_says_how_far_it_is():
    found = translate([4], SpringSet.of("MMM"))
    assert (found.sets[0].letters, found.impossible, found.errors) == ("MMM", (0,), (-2,))
    assert error_words(found.errors[0]) == "two units lighter"


def test_of_equal_errors_the_series_with_fewer_springs_is_taken():
    # HH then H is one unit off, as is HHL then L, but hooks one spring less.
    found = translate([3, 1], SpringSet.of("HHL"))
    assert [springs.letters for springs in found.sets] == ["HH", "H"]


def test_a_step_down_that_cannot_be_made_by_unhooking_is_forced():
    # With two heavy springs only H is near 2 and near 1, so nothing can be unhooked between them.
    found = translate([2, 1], SpringSet.of("HH"))
    assert found.forced and found.impossible == ()


@given(STEP_DOWNS, INVENTORIES)
def test_a_step_down_never_adds_a_spring_unless_it_says_so(references, inventory):
    found = translate(references, inventory)
    if found.forced:
        return
    for place in range(1, len(references)):
        before, after = found.sets[place - 1], found.sets[place]
        assert after.within(before)
        assert (before == after) == (references[place - 1] == references[place])


@given(STEP_DOWNS, INVENTORIES)
def test_no_other_removal_path_has_a_smaller_total_error(references, inventory):
    found = translate(references, inventory)
    if found.forced or found.impossible:
        return
    assert sum(map(abs, found.errors)) == least_error(references, inventory, None)


def least_error(references, inventory, before):
    """Every path tried, one after another."""
    if not references:
        return 0
    best = 1000
    for springs in fitting_sets(references[0], inventory):
        if before is not None:
            reference, hooked = before
            same = reference == references[0]
            if (same and springs != hooked) or (not same and (springs == hooked or not springs.within(hooked))):
                continue
        rest = least_error(references[1:], inventory, (references[0], springs))
        best = min(best, abs(error_of(references[0], springs)) + rest)
    return best


@given(st.lists(st.integers(0, 5), min_size=1, max_size=6), INVENTORIES)
def test_a_machine_never_hooks_more_than_it_has(references, inventory):
    assert all(springs.within(inventory) for springs in translate(references, inventory).sets)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("HMML", "HML", "Unhook one medium"),
        ("HML", "HL", "Unhook one medium"),
        ("M", "HM", "Hook one heavy"),
        ("HMML", "HL", "Unhook two medium"),
        ("HHML", "H", "Unhook one heavy, one medium and one light"),
        ("HL", "MM", "Unhook one heavy and one light, hook two medium"),
        ("HL", "HL", "Springs stay"),
        ("HL", "", "Unhook all springs"),
        ("", "HML", "Hook one heavy, one medium and one light"),
        ("", "", "No springs"),
    ],
)
def test_the_class_to_hook_or_unhook_is_named(before, after, words):
    assert change_words(SpringSet.of(before), SpringSet.of(after)) == words


def test_before_the_first_line_nothing_is_hooked():
    assert change_words(None, SpringSet.of("M")) == "Hook one medium"


def test_letters_other_than_the_three_classes_are_refused():
    with pytest.raises(ValueError):
        SpringSet.of("HX")


def test_tower_and_chair_use_springs_of_their_own():
    assert own_springs(REPERTOIRE["T-01"], 2) == SpringSet(light=2)
    assert own_springs(REPERTOIRE["C-01"], 2) == SpringSet(medium=2)
