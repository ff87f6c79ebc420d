"""The sixteen leaves of the preparticipation screening algorithm.

Source of each line below: Riebe D, Franklin BA, Thompson PD, et al. Updating ACSM's recommendations for exercise
preparticipation health screening. Med Sci Sports Exerc 47(11):2473-9, 2015 (riebe2015). The paper itself was not at
hand: the figure was seen through secondary reproductions. The opening of chapter 2 of the ACSM Guidelines, 10th
edition, 2018, was read (acsm_guidelines10). A later edition exists and was not checked.
"""

from datetime import date

import pytest

from clients.rules import Outcome, Rulebook, ScreeningFacts, screen
from clients.rules.facts import Disease
from clients.rules.reference import Intensity
from tests.reference import tables

BOOK = Rulebook.from_tables(tables())
ON = date(2026, 3, 2)
LIGHT, HARD = Intensity.LIGHT_MODERATE, Intensity.VIGOROUS

# Leaf, exercises regularly, known disease, sign or symptom, wanted intensity, outcome.
LEAVES = [
    # riebe2015, second hand: inactive, no disease, no symptom: no clearance needed; start light to moderate.
    (1, False, False, False, LIGHT, Outcome.CLEAR),
    (2, False, False, False, HARD, Outcome.CLEAR_LIMITED),
    # riebe2015, second hand: inactive with any sign or symptom: clearance before starting, whatever the disease.
    (3, False, False, True, LIGHT, Outcome.REFER),
    (4, False, False, True, HARD, Outcome.REFER),
    # riebe2015, second hand: inactive with known disease and no symptom: clearance before starting.
    (5, False, True, False, LIGHT, Outcome.REFER),
    (6, False, True, False, HARD, Outcome.REFER),
    (7, False, True, True, LIGHT, Outcome.REFER),
    (8, False, True, True, HARD, Outcome.REFER),
    # riebe2015, second hand: active, no disease, no symptom: continue, clearance not necessary.
    (9, True, False, False, LIGHT, Outcome.CLEAR),
    (10, True, False, False, HARD, Outcome.CLEAR),
    # riebe2015, second hand: active with any sign or symptom: stop, clearance before coming back.
    (11, True, False, True, LIGHT, Outcome.REFER),
    (12, True, False, True, HARD, Outcome.REFER),
    # riebe2015, second hand: active with known disease, no symptom: moderate needs no clearance; vigorous needs one
    # within the last 12 months. Without a stored letter: light to moderate only.
    (13, True, True, False, LIGHT, Outcome.CLEAR),
    (14, True, True, False, HARD, Outcome.CLEAR_LIMITED),
    (15, True, True, True, LIGHT, Outcome.REFER),
    (16, True, True, True, HARD, Outcome.REFER),
]


@pytest.mark.parametrize(("leaf", "active", "disease", "sign", "intensity", "outcome"), LEAVES)
def test_the_leaf_ends_where_the_published_figure_does(leaf, active, disease, sign, intensity, outcome):
    facts = ScreeningFacts(
        written_on=ON,
        regularly_active=active,
        diseases=frozenset({Disease.KIDNEY}) if disease else frozenset(),
        symptoms=frozenset({"S8"}) if sign else frozenset(),
        intensity=intensity,
    )
    found = screen(facts, BOOK, on=ON)
    assert found.outcome is outcome
    assert [reason.rule_id for reason in found.reasons] == [f"leaf {leaf}"]
    assert "riebe2015" in found.reasons[0].source_ids


def test_a_vigorous_clearance_holds_twelve_months():
    # riebe2015, second hand: medical clearance within the last 12 months.
    assert {row.leaf: row.clearance_max_age_months for row in BOOK.leaves if row.clearance_max_age_months} == {14: 12}
