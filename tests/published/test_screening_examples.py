"""Four people, worked out by hand from the published table and the limits of the house.

Sources: riebe2015 (clearance table, second hand) for the outcomes; giangregorio2015 for thin bones; ada2016 and
riebe2015 for diabetes; where the limits table says common practice there is no source.
"""

from datetime import date, timedelta

from clients.rules import (
    ActiveCondition,
    Level,
    Outcome,
    Pressure,
    Readings,
    Rulebook,
    ScreeningFacts,
    levels_of,
    merged_limits,
    screen,
)
from clients.rules.facts import Disease
from clients.rules.reference import Intensity
from tests.reference import tables

BOOK = Rulebook.from_tables(tables())
ON = date(2026, 3, 2)
BEGINNER = ScreeningFacts(
    written_on=ON,
    regularly_active=False,
    diseases=frozenset(),
    symptoms=frozenset(),
    intensity=Intensity.LIGHT_MODERATE,
)


def at_level(found: dict[str, Level], level: Level) -> set[str]:
    return {demand for demand, held in found.items() if held is level}


def test_a_later_spinal_fusion_and_thin_bones_together_avoid_loaded_rounding():
    # common practice, no source (fusion); giangregorio2015 (thin bones)
    told = [ActiveCondition("C12b", since=ON - timedelta(days=400)), ActiveCondition("C01")]
    rounding = next(one for one in merged_limits(told, BOOK, on=ON) if one.demand == "flex_loaded")
    assert (rounding.level, rounding.because) == (Level.AVOID, ("C01",))
    assert rounding.source_ids == ("giangregorio2015",)


def test_a_34_year_old_without_anything_to_tell_ends_on_leaf_1_without_limits():
    # riebe2015, second hand
    facts = ScreeningFacts(**{**vars(BEGINNER), "readings": Readings(pressures=(Pressure(116, 72),), heart_rate=66)})
    found = screen(facts, BOOK, on=ON)
    assert (found.outcome, found.limits) == (Outcome.CLEAR, ())
    assert [reason.rule_id for reason in found.reasons] == ["leaf 1"]


def test_a_52_year_old_with_diabetes_who_is_inactive_ends_on_leaf_5_with_two_things_to_watch():
    # riebe2015, second hand; ada2016
    facts = ScreeningFacts(
        **{
            **vars(BEGINNER),
            "diseases": frozenset({Disease.DIABETES}),
            "conditions": (ActiveCondition("C56"),),
        }
    )
    found = screen(facts, BOOK, on=ON)
    assert found.outcome is Outcome.REFER
    assert [reason.rule_id for reason in found.reasons] == ["leaf 5"]
    assert levels_of(found.limits) == {"straining": Level.WATCH, "posture_change": Level.WATCH}


def test_a_67_year_old_with_thin_bones_and_controlled_pressure_ends_on_leaf_1_with_merged_limits():
    # riebe2015, second hand; giangregorio2015
    told = (ActiveCondition("C01", needs_clearance=False), ActiveCondition("C14"))
    readings = Readings(pressures=(Pressure(136, 84),), heart_rate=72, is_treated=True)
    found = screen(ScreeningFacts(**{**vars(BEGINNER), "conditions": told, "readings": readings}), BOOK, on=ON)
    levels = levels_of(found.limits)

    assert found.outcome is Outcome.CLEAR
    assert [reason.rule_id for reason in found.reasons] == ["leaf 1"]
    assert at_level(levels, Level.AVOID) == {"flex_loaded", "flex_end", "rot_flex", "neck_weight", "rolling"}
    assert at_level(levels, Level.ADAPT) == {"rotation", "sidebend", "straining", "impact", "pivot"}
    assert at_level(levels, Level.WATCH) == {"inversion", "shoulder_overhead", "prone", "balance", "posture_change"}
