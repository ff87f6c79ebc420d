"""The weeks after an opened breastbone, and after a pacemaker or defibrillator.

Sources: hospital leaflets on sternal precautions (sternotomy_leaflets, second hand); Adams J et al., Keep your move in
the tube, Proc (Bayl Univ Med Cent) 29:97, 2016 (adams2016; abstract read: arbitrary load and time restrictions, up to
12 weeks, and forbidden shoulder movements). American College of Sports Medicine, Exercising with a pacemaker or
implantable cardioverter defibrillator, 2010 (acsm_pacemaker2010; page read: cardiologist first, no strength work that
pulls at the incision for at least 12 weeks, pulse at least 10 percent under the device's cut-off).
"""

import pytest

from clients.rules import ActiveCondition, Level, Outcome, Side
from clients.rules.clearance import known_diseases
from clients.rules.facts import Disease
from tests.published.someone import BOOK, WELL, ago, asked_to_confirm, avoided, found, levels, row_on, sources_of

TWELVE_WEEKS = 84


@pytest.mark.parametrize(("days", "row"), [(0, "C54"), (42, "C54"), (56, "C54"), (83, "C54"), (84, "")])
def test_an_opened_breastbone_is_recent_for_the_longest_of_the_published_times(days, row):
    # sternotomy_leaflets, second hand: 6 to 8 weeks; adams2016, read: up to 12
    assert row_on("C54", days) == row


def test_pushing_pulling_and_arms_overhead_are_left_out_after_an_opened_breastbone():
    # sternotomy_leaflets, second hand; adams2016, read: shoulder movements are forbidden by habit
    assert {"wrist_wb", "shoulder_wb", "shoulder_overhead", "straining"} <= avoided("C54")
    for demand in ("wrist_wb", "shoulder_wb", "shoulder_overhead"):
        assert "sternotomy_leaflets" in sources_of("C54", demand)


def test_the_doubt_about_these_limits_is_shown_beside_them():
    # adams2016, read: called arbitrary
    assert "arbitrary" in BOOK.disagreements["D09"].position_b
    assert BOOK.disagreements["D09"].sources_b == ("adams2016",)
    assert BOOK.disagreements["D09"].default_rule == "clinician's letter"


def test_recovery_from_a_heart_attack_begins_elsewhere():
    # ada2016, opening rows of table 5, read: begin in cardiac rehabilitation
    assert found(conditions=(ActiveCondition("C54", since=ago(30)),)).outcome is Outcome.REFER
    assert "cardiac rehabilitation" in BOOK.conditions["C54"].clearance_when


@pytest.mark.parametrize(
    ("days", "row"),
    [(0, "C52"), (TWELVE_WEEKS - 1, "C52"), (TWELVE_WEEKS, "C53"), (TWELVE_WEEKS + 1, "C53")],
)
def test_a_device_is_new_for_at_least_twelve_weeks(days, row):
    # acsm_pacemaker2010, read
    assert row_on("C52", days) == row


def test_what_pulls_at_the_wound_is_avoided_while_the_device_is_new_and_until_a_person_confirms():
    # acsm_pacemaker2010, read
    pulls = {"shoulder_wb", "shoulder_overhead", "shoulder_ext_end"}
    assert pulls <= avoided("C52")
    assert all(sources_of("C52", demand) == ("acsm_pacemaker2010",) for demand in pulls)
    assert asked_to_confirm("C52", 83) == []
    assert asked_to_confirm("C52", 84) == [("C52", "C53")]


def test_later_the_arm_overhead_is_adapted_and_no_longer_avoided():
    # common practice, no source
    assert levels("C53")["shoulder_overhead"] is Level.ADAPT
    assert avoided("C53") == set()


@pytest.mark.parametrize("condition_id", ["C52", "C53"])
def test_a_cardiologist_speaks_first(condition_id):
    # acsm_pacemaker2010, read; riebe2015, second hand: a known disease of the heart
    told = ActiveCondition(condition_id, Side.LEFT, ago(30))
    assert found(conditions=(told,)).outcome is Outcome.REFER
    assert known_diseases(WELL, (told,)) == {Disease.HEART_OR_VESSELS}


def test_the_margin_below_the_devices_cut_off_is_told():
    # acsm_pacemaker2010, read: at least 10 percent
    assert "10 percent" in BOOK.conditions["C52"].note
