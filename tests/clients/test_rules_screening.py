"""Screening without a database: what gates do, and what no answer can ever do."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules import (
    ActiveCondition,
    Choices,
    Level,
    Outcome,
    Pregnancy,
    Pressure,
    Readings,
    ReasonKind,
    Restriction,
    ScreeningFacts,
    Side,
    levels_of,
    merged_limits,
    row_status,
    screen,
    strictest,
)
from clients.rules.facts import Disease, Today, ToldFlag
from clients.rules.limits import condition_on
from clients.rules.outcomes import LEVELS, OUTCOMES, DeskWord, RowStatus, desk_word
from tests.clients.told import BOOK, ON, WELL, strictness
from tests.reference import table


def outcome_of(**changes: object) -> Outcome:
    return screen(replace(WELL, **changes), BOOK, on=ON).outcome  # type: ignore[arg-type]


@given(st.lists(st.sampled_from(OUTCOMES), min_size=1))
def test_the_strictest_outcome_is_one_of_them_and_none_is_stricter(outcomes):
    found = strictest(outcomes)
    assert found in outcomes
    assert all(strictness(one) <= strictness(found) for one in outcomes)


def test_the_ladder_stands_in_the_published_order_of_the_house():
    ladder = ["emergency", "postpone", "refer", "incomplete", "clear_limited", "clear"]
    assert [outcome.value for outcome in OUTCOMES] == ladder
    assert strictest([]) is Outcome.CLEAR


def test_missing_facts_are_named_once_each():
    found = screen(ScreeningFacts(written_on=ON), BOOK, on=ON)
    assert [reason.rule_id for reason in found.reasons] == ["H01", "H02", "H04", "H18"]
    assert found.outcome is Outcome.INCOMPLETE


def test_a_sign_asks_for_clearance_even_when_all_else_is_unknown():
    facts = ScreeningFacts(written_on=ON, symptoms=frozenset({"S6"}))
    assert screen(facts, BOOK, on=ON).outcome is Outcome.REFER


@pytest.mark.parametrize("flag_id", sorted(BOOK.red_flags))
def test_each_red_flag_leads_where_its_route_says(flag_id):
    expected = {
        "emergency": Outcome.EMERGENCY,
        "eye_emergency": Outcome.EMERGENCY,
        "same_day": Outcome.POSTPONE,
        "doctor_before_return": Outcome.REFER,
    }[BOOK.red_flags[flag_id].route.value]
    assert outcome_of(flags=(ToldFlag(flag_id),)) is expected


def test_a_same_day_flag_waits_for_the_doctors_answer_on_later_days():
    facts = replace(WELL, flags=(ToldFlag("F05"),))
    assert screen(facts, BOOK, on=ON + timedelta(days=1)).outcome is Outcome.REFER


@pytest.mark.parametrize("flag_id", ["F01", "F02", "F03", "F04"])
def test_an_old_and_steady_sign_of_the_saddle_still_asks_for_a_doctor(flag_id):
    assert outcome_of(flags=(ToldFlag(flag_id, needs_met=False),)) is Outcome.REFER


def test_another_flag_without_what_it_needs_does_not_count():
    assert outcome_of(flags=(ToldFlag("F15", needs_met=False),)) is Outcome.CLEAR


def test_what_a_flag_needs_counts_as_there_while_it_is_not_known():
    assert outcome_of(flags=(ToldFlag("F01", needs_met=None),)) is Outcome.EMERGENCY


@pytest.mark.parametrize("told", list(Today))
def test_what_is_told_of_today_postpones_today(told):
    assert outcome_of(today=frozenset({told})) is Outcome.POSTPONE


def test_a_cold_told_last_week_no_longer_postpones_but_an_irregular_pulse_waits_for_a_doctor():
    next_week = ON + timedelta(days=7)
    cold, pulse = (replace(WELL, today=frozenset({told})) for told in (Today.ILL, Today.IRREGULAR_PULSE))
    assert screen(cold, BOOK, on=next_week).outcome is Outcome.CLEAR
    assert screen(pulse, BOOK, on=next_week).outcome is Outcome.REFER
    assert screen(cold, BOOK, on=ON).look_again_on == ON + timedelta(days=1)


def test_only_under_supervision_asks_for_clearance():
    assert outcome_of(supervised_only=True) is Outcome.REFER


def test_words_that_no_one_has_read_leave_the_form_unfinished():
    assert outcome_of(has_unread_words=True) is Outcome.INCOMPLETE


def test_answers_hold_365_days_and_not_one_more():
    found = screen(WELL, BOOK, on=ON)
    assert found.valid_until == ON + timedelta(days=364)
    assert screen(WELL, BOOK, on=found.valid_until).outcome is Outcome.CLEAR
    assert screen(WELL, BOOK, on=ON + timedelta(days=365)).outcome is Outcome.INCOMPLETE


def test_uncontrolled_pressure_makes_readings_not_taken_a_missing_answer():
    told = (ActiveCondition("C15"),)
    taken = Readings(pressures=(Pressure(130, 80),), heart_rate=70)
    assert outcome_of(conditions=told) is Outcome.INCOMPLETE
    assert outcome_of(conditions=told, readings=replace(taken, heart_rate=None)) is Outcome.INCOMPLETE
    assert outcome_of(conditions=told, readings=replace(taken, pressures=(), told=Pressure(130, 80))) is (
        Outcome.INCOMPLETE
    )
    assert outcome_of(conditions=told, readings=taken) is Outcome.CLEAR
    assert outcome_of() is Outcome.CLEAR


def test_an_open_window_is_at_best_clear_with_limits():
    sprain = ActiveCondition("C33", Side.LEFT, ON - timedelta(days=10), needs_clearance=False)
    found = screen(replace(WELL, conditions=(sprain,)), BOOK, on=ON)
    assert found.outcome is Outcome.CLEAR_LIMITED
    assert ReasonKind.WINDOW in {reason.kind for reason in found.reasons}


def test_a_window_that_has_ended_keeps_its_limits_and_proposes_the_next_condition():
    fracture = ActiveCondition("C03", since=ON - timedelta(days=84))
    found = screen(replace(WELL, conditions=(fracture,)), BOOK, on=ON)
    day_before = screen(replace(WELL, conditions=(fracture,)), BOOK, on=ON - timedelta(days=1))

    assert [(one.condition_id, one.next_condition_id) for one in found.proposals] == [("C03", "C04")]
    assert found.proposals[0].ended_on == ON - timedelta(days=1)
    assert day_before.proposals == ()
    assert levels_of(found.limits) == levels_of(day_before.limits)
    assert {limit.until for limit in day_before.limits} == {ON - timedelta(days=1)}
    assert {limit.until for limit in found.limits} == {None}


@pytest.mark.parametrize("row", [row for row in BOOK.conditions.values() if row.has_last_day], ids=lambda row: row.id)
def test_the_last_day_of_a_window_is_inside_it_and_the_next_is_not(row):
    told = ActiveCondition(row.id, since=ON - timedelta(days=row.window_days_to))
    inside, outside = (screen(replace(WELL, conditions=(told,)), BOOK, on=ON + timedelta(days=days)) for days in (0, 1))

    assert inside.proposals == ()
    assert {limit.until for limit in inside.limits} == {ON}
    assert inside.look_again_on == ON + timedelta(days=1)
    assert [(one.condition_id, one.next_condition_id) for one in outside.proposals] == [(row.id, row.next_condition_id)]
    assert levels_of(outside.limits) == levels_of(inside.limits)
    assert ReasonKind.WINDOW in {reason.kind for reason in outside.reasons}


@pytest.mark.parametrize(("days", "row_id"), [(83, "C03"), (84, "C04")])
def test_told_anew_83_days_are_under_12_weeks_and_84_are_not(days, row_id):
    row = condition_on(BOOK.conditions["C03"], BOOK, since=ON - timedelta(days=days), on=ON)
    assert row is not None
    assert row.id == row_id


def test_a_condition_held_by_pain_proposes_nothing_however_old_it_is():
    fracture = ActiveCondition("C03", since=ON - timedelta(days=900), is_held=True)
    assert screen(replace(WELL, conditions=(fracture,)), BOOK, on=ON).proposals == ()


@pytest.mark.parametrize(
    ("condition_id", "needs", "expected"),
    [
        ("C02", None, Outcome.CLEAR),
        ("C04", False, Outcome.REFER),
        ("C09", False, Outcome.REFER),
        ("C13", False, Outcome.CLEAR),
        ("C13", True, Outcome.REFER),
        ("C13", None, Outcome.INCOMPLETE),
        ("C23", False, Outcome.REFER),
    ],
)
def test_a_condition_asks_for_clearance_as_its_row_says(condition_id, needs, expected):
    told = ActiveCondition(condition_id, since=ON - timedelta(days=50), needs_clearance=needs)
    assert outcome_of(conditions=(told,)) is expected


def test_a_sided_finding_limits_its_own_side_and_an_unsure_one_both():
    wrist = ActiveCondition("C38", Side.LEFT)
    found = {limit.demand: limit.side for limit in merged_limits([wrist], BOOK, on=ON)}
    unsure = {limit.demand: limit.side for limit in merged_limits([replace(wrist, side=None)], BOOK, on=ON)}
    assert found["wrist_wb"] is Side.LEFT
    assert unsure["wrist_wb"] is Side.BOTH


def test_two_sides_with_different_levels_are_both_told():
    told = [ActiveCondition("C38", Side.LEFT), ActiveCondition("C39", Side.RIGHT)]
    wrist = {one.side: one for one in merged_limits(told, BOOK, on=ON) if one.demand == "wrist_wb"}
    assert (wrist[Side.LEFT].level, wrist[Side.LEFT].because) == (Level.AVOID, ("C38",))
    assert (wrist[Side.RIGHT].level, wrist[Side.RIGHT].because) == (Level.ADAPT, ("C39",))


def test_each_limit_of_one_condition_is_the_row_of_the_table():
    for condition_id, rules in BOOK.limits_by_condition.items():
        found = {one.demand: one for one in merged_limits([ActiveCondition(condition_id)], BOOK, on=ON)}
        for rule in rules:
            limit = found[rule.demand]
            assert (limit.level, limit.how, limit.strength) == (rule.level, rule.how, rule.strength)
            assert limit.because == (condition_id,)


def test_turned_and_rounded_takes_the_strictest_of_its_parts_also_where_the_table_leaves_it_out():
    for condition_id in BOOK.conditions:
        levels = levels_of(merged_limits([ActiveCondition(condition_id)], BOOK, on=ON))
        parts = [levels[part] for part in ("rotation", "flex_loaded", "flex_end") if part in levels]
        if parts:
            assert LEVELS.index(levels["rot_flex"]) <= min(map(LEVELS.index, parts))


@pytest.mark.parametrize("part", ["rotation", "flex_loaded", "flex_end"])
def test_what_a_clinician_asked_to_leave_out_is_avoided_and_turned_and_rounded_follows(part):
    told = (Restriction(frozenset({part})),)
    levels = levels_of(merged_limits([], BOOK, on=ON, restrictions=told))
    assert levels == {part: Level.AVOID, "rot_flex": Level.AVOID}


def test_the_stage_of_a_pregnancy_changes_on_its_day_and_without_a_due_date_is_the_strictest():
    def stage(due_on: date | None) -> set[str]:
        found = screen(replace(WELL, pregnancy=Pregnancy(due_on)), BOOK, on=ON)
        return {condition for limit in found.limits for condition in limit.because}

    at = {gestation: stage(ON + timedelta(days=280 - gestation)) for gestation in (97, 98, 195, 196)}
    assert at == {97: {"C19"}, 98: {"C20"}, 195: {"C20"}, 196: {"C21"}}
    assert stage(None) == {"C21"}


def test_the_owners_second_position_turns_diabetes_alone_into_clear_with_limits():
    diabetic = replace(WELL, diseases=frozenset({Disease.DIABETES}), conditions=(ActiveCondition("C56"),))
    with_kidney = replace(diabetic, diseases=frozenset({Disease.DIABETES, Disease.KIDNEY}))
    chosen = Choices(positions_b=frozenset({"D01"}))
    assert screen(diabetic, BOOK, on=ON).outcome is Outcome.REFER
    assert screen(diabetic, BOOK, on=ON, choices=chosen).outcome is Outcome.CLEAR_LIMITED
    assert screen(with_kidney, BOOK, on=ON, choices=chosen).outcome is Outcome.REFER


@pytest.mark.parametrize("condition_id", ["C56", "C57", "C52", "C53", "C54", "C58"])
def test_a_condition_that_is_a_known_disease_counts_as_one_wherever_it_was_told(condition_id):
    told = ActiveCondition(condition_id, since=ON - timedelta(days=300))
    found = screen(replace(WELL, conditions=(told,)), BOOK, on=ON)
    assert "leaf 5" in {reason.rule_id for reason in found.reasons}


def test_a_regime_that_is_not_offered_is_refused():
    with pytest.raises(ValueError, match="au"):
        Choices(regime="au")


def test_the_desk_sees_one_of_three_words():
    seen = {(outcome, valid): desk_word(outcome, is_valid=valid) for outcome, valid in product(Outcome, [True, False])}
    assert seen[Outcome.CLEAR, True] is seen[Outcome.CLEAR_LIMITED, True] is DeskWord.CURRENT
    assert {seen[one, True] for one in (Outcome.REFER, Outcome.INCOMPLETE)} == {DeskWord.NOT_CURRENT}
    assert {seen[one, v] for one in (Outcome.POSTPONE, Outcome.EMERGENCY) for v in (True, False)} == {DeskWord.SPEAK}
    assert DeskWord.CURRENT not in {seen[outcome, False] for outcome in Outcome}


@pytest.mark.parametrize(
    ("demands", "removable", "adds", "expected"),
    [
        ({"kneel"}, {"kneel"}, set(), RowStatus.ADAPT),
        ({"kneel"}, set(), set(), RowStatus.BLOCKED),
        ({"kneel"}, {"kneel"}, {"impact"}, RowStatus.BLOCKED),
        ({"prone"}, set(), {"impact"}, RowStatus.WATCH),
        ({"grip", "prone"}, set(), set(), RowStatus.ADAPT),
        ({"pivot"}, set(), set(), RowStatus.CLEAR),
    ],
)
def test_a_row_stands_where_the_strictest_of_its_demands_puts_it(demands, removable, adds, expected):
    levels = {"kneel": Level.AVOID, "impact": Level.AVOID, "grip": Level.ADAPT, "prone": Level.WATCH}
    assert row_status(demands, removable, adds, levels) is expected


def test_the_counts_over_the_repertoire_for_thin_bones_are_those_worked_out_in_the_trade_notes():
    levels = levels_of(merged_limits([ActiveCondition("C01")], BOOK, on=ON))
    columns = ("demands", "demands_removable", "regression_adds")
    statuses = [
        row_status(*([part for part in row[column].split(";") if part] for column in columns), levels=levels)
        for row in table("repertoire")
    ]
    assert {status.value: statuses.count(status) for status in RowStatus} == {
        "clear": 20,
        "watch": 21,
        "adapt": 41,
        "blocked": 45,
    }
