"""Moving with diabetes, with and without complications.

Sources: Riebe D et al. 2015 (riebe2015, second hand): a known disease, so clearance when inactive. Colberg SR et al.,
position statement of the American Diabetes Association 2016 (ada2016; opening rows of table 5 read) and Colberg 2017
(colberg2017, read): no clearance for light to moderate work without signs. Diabetes complications and exercise, table 4
(diabetes_t4_2014, read) and the Diabetes Care table on resistance work (diabetescare_t4, read).
"""

from dataclasses import replace
from typing import Any

import pytest

from clients.rules import ActiveCondition, Choices, Level, Outcome, screen
from clients.rules.facts import Disease
from tests.published.someone import BOOK, ON, WELL, avoided, found, levels, sources_of

DIABETIC: dict[str, Any] = {"diseases": frozenset({Disease.DIABETES}), "conditions": (ActiveCondition("C56"),)}


@pytest.mark.parametrize(("active", "expected"), [(False, Outcome.REFER), (True, Outcome.CLEAR)])
def test_without_complications_it_is_exercise_now_that_decides(active, expected):
    # riebe2015, second hand
    assert found(regularly_active=active, **DIABETIC).outcome is expected


def test_the_owner_may_follow_the_other_position_and_it_is_named_with_its_source():
    # colberg2017, read
    facts = replace(WELL, regularly_active=False, **DIABETIC)
    told = screen(facts, BOOK, on=ON, choices=Choices(positions_b=frozenset({"D01"})))
    assert told.outcome is Outcome.CLEAR_LIMITED
    (leaf,) = [reason for reason in told.reasons if reason.rule_id == "leaf 5"]
    assert (leaf.source_ids, leaf.chosen) == (("colberg2017",), "D01")


def test_a_kidney_illness_beside_it_keeps_the_clearance_whatever_the_owner_chose():
    # colberg2017, read: the other position is about diabetes alone
    both = frozenset({Disease.DIABETES, Disease.KIDNEY})
    facts = replace(WELL, regularly_active=False, diseases=both)
    assert screen(facts, BOOK, on=ON, choices=Choices(positions_b=frozenset({"D01"}))).outcome is Outcome.REFER


def test_nerve_damage_leaves_jumping_out_and_supports_balance_and_feet():
    # diabetes_t4_2014 and ada2016, read
    assert avoided("C57") == {"impact"}
    assert levels("C57")["balance"] is levels("C57")["forefoot"] is levels("C57")["posture_change"] is Level.ADAPT
    for demand in ("impact", "balance", "forefoot", "posture_change"):
        assert sources_of("C57", demand) == ("diabetes_t4_2014", "ada2016")


def test_nerve_damage_waits_for_a_doctor_even_for_somebody_who_exercises():
    # diabetes_t4_2014, read
    assert found(conditions=(ActiveCondition("C57"),)).outcome is Outcome.REFER


@pytest.mark.parametrize("condition_id", ["C17", "C59"])
def test_a_retina_at_risk_and_a_symptomatic_hernia_wait_for_a_doctor_before_resistance_work(condition_id):
    # diabetescare_t4, read
    assert "diabetescare_t4" in BOOK.conditions[condition_id].source_ids
    assert found(conditions=(ActiveCondition(condition_id, since=ON),)).outcome is Outcome.REFER
