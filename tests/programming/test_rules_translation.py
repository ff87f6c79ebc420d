"""A series on a machine: sets, deeds, ties, the nearest set, and what another machine's set does to the work."""

import pytest

from programming.rules.lines import Line, PlannedLine
from programming.rules.springs import SpringSet
from programming.rules.translation import moved, translated
from studio.rules import Refused
from tests.programming.reference import REPERTOIRE

MASSAGE = ("R-SM1", "R-SM2", "R-SM3", "R-SM4")


def lines(*keys):
    return [Line(PlannedLine(str(at), key), REPERTOIRE[key]) for at, key in enumerate(keys)]


def sets(found):
    return [one.hooked.letters if one.hooked else None for one in found]


def test_stomach_massage_steps_down_by_unhooking_and_the_class_is_named():
    # worked example of the reference: 4-3-2-2 on 1 light, 2 medium, 2 heavy
    found = translated(lines(*MASSAGE), SpringSet.of("HHMML"))
    assert sets(found) == ["HMML", "HML", "HL", "HL"]
    assert [one.deed for one in found[1:]] == ["Unhook one medium", "Unhook one medium", "Springs stay"]
    assert {one.says for one in found} == {"as planned"}


def test_a_tie_is_offered_to_the_teacher():
    (found,) = translated(lines("R-LS1"), SpringSet.of("HHMML"))
    assert (found.hooked, found.others) == (SpringSet.of("HL"), (SpringSet.of("MM"),))


def test_a_machine_too_weak_gives_the_nearest_and_says_what_that_does():
    (found,) = translated(lines("R-FW1"), SpringSet.of("MMM"))
    assert found.is_impossible
    assert found.says == "nearest there is, two units lighter: easier"


def test_one_unit_off_is_harder_or_easier_by_what_the_spring_does():
    # one heavy spring is three units: one under the aim of a reference count of two
    resist, assist = (translated(lines(key), SpringSet.of("H"))[0] for key in ("R-SM3", "R-SSP"))
    assert resist.says == "one unit lighter: easier"
    assert assist.says == "one unit lighter: harder"


def test_a_step_down_that_cannot_be_made_by_unhooking_says_so():
    parts = [Line(PlannedLine(key, key, springs=count), REPERTOIRE[key]) for key, count in (("R-SM2", 2), ("R-SM3", 1))]
    # With two heavy springs only H is within reach of two and of one, so nothing can be unhooked between them.
    assert {one.is_forced for one in translated(parts, SpringSet.of("HH"))} == {True}
    assert {one.is_forced for one in translated(parts, SpringSet.of("HHMML"))} == {False}


def test_rows_of_other_apparatus_and_the_mat_keep_springs_of_their_own():
    found = translated(lines("R-FW1", "M-01", "T-01", "R-FW2"), SpringSet.of("MMMM"))
    assert sets(found) == ["MMMM", None, None, "MMMM"]
    assert [one.deed for one in found] == ["Hook four medium", "", "", "Springs stay"]
    assert found[1].says == ""


def test_a_machine_without_springs_is_said_plainly():
    with pytest.raises(Refused) as refused:
        translated(lines("R-FW1"), SpringSet())
    assert refused.value.reasons[0].code == "no_springs"
    assert sets(translated(lines("M-01"), SpringSet())) == [None]


def test_from_machine_to_machine_the_units_between_are_told():
    here = translated(lines("R-FW1"), SpringSet.of("HHMML"))[0]
    there = translated(lines("R-FW1"), SpringSet.of("MMM"))[0]
    assert moved(here, there) == "two units lighter: easier"
    assert moved(there, here) == "two units heavier: harder"
    assert moved(here, here) == "the same units"
