"""The sixteen leaves of the preparticipation screening algorithm.

Source of each line below: Riebe D, Franklin BA, Thompson PD, et al. Updating ACSM's recommendations for exercise
preparticipation health screening. Med Sci Sports Exerc 47(11):2473-9, 2015 (riebe2015). The paper itself was not at
hand: the figure was seen through secondary reproductions. The opening of chapter 2 of the ACSM Guidelines, 10th
edition, 2018, was read (acsm_guidelines10). A later edition exists and was not checked.
"""

import pytest

from clients.rules import ActiveCondition, Outcome, ScreeningFacts, form, screen
from clients.rules.facts import Disease, LetterTerms
from clients.rules.reference import Intensity
from tests.published.someone import BOOK, ON, ago, found, outcome

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


# Nine signs and symptoms: ACSM Guidelines, 8th edition, table 2.2 (acsm_guidelines8_symptoms, read).
NINE = ("S1", "S2", "S3", "S4", "S5", "S6", "S7", "S8", "S9")


def test_each_of_the_sixteen_answers_to_the_four_questions_has_its_leaf():
    answers = {(row.regularly_active, row.known_disease, row.symptoms, row.intensity) for row in BOOK.leaves}
    assert (len(answers), len(BOOK.leaves), len(LEAVES)) == (16, 16, 16)


@pytest.mark.parametrize(("leaf", "active", "disease", "sign", "intensity", "expected"), LEAVES)
def test_the_leaf_ends_where_the_published_figure_does(leaf, active, disease, sign, intensity, expected):
    facts = ScreeningFacts(
        written_on=ON,
        regularly_active=active,
        diseases=frozenset({Disease.KIDNEY}) if disease else frozenset(),
        symptoms=frozenset({"S8"}) if sign else frozenset(),
        intensity=intensity,
    )
    ended = screen(facts, BOOK, on=ON)
    assert ended.outcome is expected
    assert [reason.rule_id for reason in ended.reasons] == [f"leaf {leaf}"]
    assert "riebe2015" in ended.reasons[0].source_ids


def test_a_vigorous_clearance_holds_twelve_months():
    # riebe2015, second hand: medical clearance within the last 12 months.
    assert {row.leaf: row.clearance_max_age_months for row in BOOK.leaves if row.clearance_max_age_months} == {14: 12}


@pytest.mark.parametrize("disease", list(Disease))
@pytest.mark.parametrize(("active", "expected"), [(False, Outcome.REFER), (True, Outcome.CLEAR)])
def test_heart_and_vessels_sugar_and_kidneys_count_alike(disease, active, expected):
    # riebe2015, second hand, for heart, peripheral and brain vessels; for sugar and kidneys from memory
    assert outcome(regularly_active=active, diseases=frozenset({disease})) is expected


@pytest.mark.parametrize("sign", NINE)
@pytest.mark.parametrize("active", [True, False])
@pytest.mark.parametrize("diseases", [frozenset(), frozenset({Disease.DIABETES})])
def test_any_one_of_the_nine_signs_is_read_first_and_asks_for_clearance(sign, active, diseases):
    # riebe2015, second hand; the nine from acsm_guidelines8_symptoms, read
    told = found(regularly_active=active, diseases=diseases, symptoms=frozenset({sign}))
    assert told.outcome is Outcome.REFER
    (leaf,) = [row for row in BOOK.leaves if f"leaf {row.leaf}" == told.reasons[0].rule_id]
    assert leaf.symptoms


def test_the_nine_signs_are_all_and_only_those_asked():
    # acsm_guidelines8_symptoms, read
    assert sorted(BOOK.symptoms) == list(NINE)


ENOUGH = {"H01.days": 3, "H01.minutes": 30, "H01.months": 3, "H01.effort": "moderate"}


@pytest.mark.parametrize(
    ("part", "value", "is_active"),
    [
        # riebe2015, second hand: planned, at least 30 minutes, moderate, 3 days a week, for the last 3 months
        ("H01.days", 2, False),
        ("H01.days", 3, True),
        ("H01.days", 4, True),
        ("H01.minutes", 29, False),
        ("H01.minutes", 30, True),
        ("H01.minutes", 31, True),
        ("H01.months", 2, False),
        ("H01.months", 3, True),
        ("H01.months", 4, True),
        ("H01.effort", "light", False),
        ("H01.effort", "none", False),
        ("H01.effort", "moderate", True),
        ("H01.effort", "hard", True),
    ],
)
def test_a_week_is_regular_exercise_from_the_published_line_on(part, value, is_active):
    assert form.facts(BOOK, ENOUGH | {part: value}, on=ON).regularly_active is is_active


def test_lung_disease_alone_no_longer_asks_for_clearance():
    # acsm_guidelines10, opening of chapter 2, read
    told = ActiveCondition("C55", needs_clearance=False)
    assert outcome(regularly_active=False, conditions=(told,)) is Outcome.CLEAR


def test_high_pressure_under_control_is_no_known_disease():
    # From memory
    assert outcome(regularly_active=False, conditions=(ActiveCondition("C14"),)) is Outcome.CLEAR


def test_no_risk_factor_is_asked_for():
    # acsm_guidelines10, opening of chapter 2, read: factors and classes of risk are no longer part of the decision
    asked = " ".join(question.question.lower() for question in BOOK.questions.values())
    assert not any(word in asked for word in ("cholesterol", "smok", "family", "weight", "father", "mother"))


def test_new_chest_pain_also_asks_for_a_doctor_the_same_day():
    # riebe2015, second hand, for the clearance; the same day is usual medical advice (general_medical, from memory)
    told = found(symptoms=frozenset({"S1"}), chest_pain_is_new=True)
    assert told.outcome is Outcome.REFER
    assert any("same day" in reason.says for reason in told.reasons)


@pytest.mark.parametrize(
    ("days", "expected"),
    [(0, Outcome.CLEAR), (364, Outcome.CLEAR), (365, Outcome.CLEAR_LIMITED), (366, Outcome.CLEAR_LIMITED)],
)
def test_hard_work_with_a_known_disease_wants_a_clearance_of_the_last_twelve_months(days, expected):
    # riebe2015, second hand: within the last 12 months; else light to moderate only
    letter = LetterTerms("one", ago(days), ON, frozenset({"leaf 14"}), Intensity.VIGOROUS, frozenset(), frozenset())
    told = found(diseases=frozenset({Disease.DIABETES}), intensity=HARD, letters=(letter,))
    assert [reason.rule_id for reason in told.reasons] == ["leaf 14"]
    assert told.outcome is expected


def test_a_clearance_opens_the_gate_to_light_and_moderate_work_only_unless_it_says_more():
    # riebe2015, second hand: with clearance, light to moderate, and more as it goes well
    for effort, expected in ((None, Outcome.CLEAR_LIMITED), (LIGHT, Outcome.CLEAR_LIMITED), (HARD, Outcome.CLEAR)):
        letter = LetterTerms("one", ON, ON, frozenset({"leaf 5"}), effort, frozenset(), frozenset())
        told = {"regularly_active": False, "diseases": frozenset({Disease.DIABETES})}
        assert outcome(**told, letters=(letter,)) is expected
