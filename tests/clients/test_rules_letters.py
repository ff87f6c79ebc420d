"""What beats what: the seven rules of precedence, and what a clinician's letter can and cannot do."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from clients.rules import (
    ActiveCondition,
    Choices,
    LetterTerms,
    Level,
    Outcome,
    Pressure,
    Readings,
    Restriction,
    Screened,
    Side,
    levels_of,
    screen,
)
from clients.rules.facts import Disease, Today, ToldFlag
from clients.rules.letters import holds_until
from clients.rules.limits import ASKED_BY_LETTER, ASKED_BY_TEACHER, TOLD_TO_AVOID
from clients.rules.reference import Intensity
from tests.clients.told import BOOK, ON, RULE_IDS, WELL

DAY = timedelta(days=1)
LETTER = LetterTerms(
    letter_id="7",
    dated=ON - timedelta(days=3),
    holds_until=ON + timedelta(days=100),
    answers=frozenset(),
    effort=None,
    allows=frozenset(),
    forbids=frozenset(),
)
EVERYTHING = replace(LETTER, answers=frozenset(RULE_IDS), effort=Intensity.VIGOROUS, allows=frozenset(BOOK.demands))
THIN_BONES = (ActiveCondition("C01", needs_clearance=False),)
WRIST = ActiveCondition("C38", Side.LEFT, needs_clearance=False)
DIABETIC = {"diseases": frozenset({Disease.DIABETES}), "conditions": (ActiveCondition("C56"),)}


def found(*, on: date = ON, **told: object) -> Screened:
    return screen(replace(WELL, **told), BOOK, on=on)  # type: ignore[arg-type]


class TestFirstEmergencyAndRedFlagsBeatEverything:
    def test_a_letter_that_answers_and_allows_everything_leaves_an_emergency_one(self):
        told = {"flags": (ToldFlag("F20"),), "letters": (EVERYTHING,)}
        assert found(**told).outcome is Outcome.EMERGENCY

    def test_a_same_day_flag_postpones_on_its_day_and_the_doctors_answer_counts_from_the_next(self):
        told = {"flags": (ToldFlag("F05"),), "letters": (replace(LETTER, answers=frozenset({"F05"})),)}
        assert found(**told).outcome is Outcome.POSTPONE
        assert found(**told, on=ON + DAY).outcome is Outcome.CLEAR_LIMITED

    def test_a_pressure_on_a_postponing_line_is_postponed_under_any_letter(self):
        high = Readings(pressures=(Pressure(182, 80), Pressure(181, 80)))
        assert found(readings=high, letters=(EVERYTHING,)).outcome is Outcome.POSTPONE

    def test_something_not_known_is_not_answered_by_a_letter(self):
        assert found(symptoms=None, letters=(EVERYTHING,)).outcome is Outcome.INCOMPLETE


class TestSecondACliniciansOwnWord:
    def test_what_is_to_be_left_out_is_avoided_even_undated_unnamed_and_past_its_date(self):
        old = replace(
            LETTER, dated=None, is_named=False, holds_until=ON - timedelta(days=900), forbids=frozenset({"kneel"})
        )
        limit = next(one for one in found(letters=(old,)).limits if one.demand == "kneel")
        assert (limit.level, limit.because, limit.how) == (Level.AVOID, ("letter:7",), ASKED_BY_LETTER)
        assert limit.until is None

    @pytest.mark.parametrize("part", ["rotation", "flex_loaded", "flex_end"])
    def test_turned_and_rounded_follows_what_a_letter_forbids(self, part):
        levels = levels_of(found(letters=(replace(LETTER, forbids=frozenset({part})),)).limits)
        assert levels == {part: Level.AVOID, "rot_flex": Level.AVOID}

    def test_an_allowed_demand_carries_no_limit_and_is_shown_as_relaxed(self):
        letter = replace(LETTER, allows=frozenset({"flex_loaded"}))
        before, after = found(conditions=THIN_BONES), found(conditions=THIN_BONES, letters=(letter,))
        was, now = levels_of(before.limits), levels_of(after.limits)

        assert was.pop("flex_loaded") is Level.AVOID
        assert now == was
        (relaxed,) = after.relaxed
        assert (relaxed.demand, relaxed.level, relaxed.because) == ("flex_loaded", Level.AVOID, ("C01",))
        assert (relaxed.letter_id, relaxed.until, relaxed.side) == ("7", LETTER.holds_until, Side.BOTH)

    @pytest.mark.parametrize(
        "lacking",
        [
            {"dated": None},
            {"is_named": False},
            {"dated": ON + DAY},
            {"holds_until": ON - DAY},
        ],
        ids=["undated", "unnamed", "dated tomorrow", "ended yesterday"],
    )
    def test_a_letter_that_lacks_date_name_or_time_relaxes_and_answers_nothing(self, lacking):
        told = found(
            conditions=THIN_BONES, diseases=frozenset({Disease.KIDNEY}), letters=(replace(EVERYTHING, **lacking),)
        )
        assert told.relaxed == ()
        assert levels_of(told.limits) == levels_of(found(conditions=THIN_BONES).limits)
        assert told.outcome is Outcome.REFER

    def test_it_holds_on_its_last_day_and_not_on_the_next(self):
        letter = replace(LETTER, allows=frozenset({"kneel"}), answers=frozenset({"leaf 5"}))
        told = {**DIABETIC, "conditions": (ActiveCondition("C56"), ActiveCondition("C41")), "letters": (letter,)}
        last, after = found(**told, on=letter.holds_until), found(**told, on=letter.holds_until + DAY)
        assert (last.outcome, after.outcome) == (Outcome.CLEAR_LIMITED, Outcome.REFER)
        assert "kneel" not in levels_of(last.limits)
        assert "kneel" in levels_of(after.limits)
        assert found(**told).look_again_on == letter.holds_until + DAY

    @pytest.mark.parametrize("told_at", ["H16", "teacher:3", "letter:9"])
    def test_a_restriction_of_the_same_demand_wins_over_the_letter(self, told_at):
        letter = replace(LETTER, allows=frozenset({"flex_loaded"}))
        asked = Restriction(frozenset({"flex_loaded"}), told_at=told_at)
        told = found(conditions=THIN_BONES, restrictions=(asked,), letters=(letter,))
        assert levels_of(told.limits)["flex_loaded"] is Level.AVOID
        assert told.relaxed == ()

    def test_a_letter_that_allows_and_forbids_the_same_demand_forbids_it(self):
        both = replace(LETTER, allows=frozenset({"flex_loaded"}), forbids=frozenset({"flex_loaded"}))
        assert levels_of(found(conditions=THIN_BONES, letters=(both,)).limits)["flex_loaded"] is Level.AVOID

    def test_without_a_date_of_its_own_it_holds_183_days(self):
        # studio_default: 6 months are 183 days, the day of writing the first of them.
        dated = date(2026, 1, 1)
        assert holds_until(dated=dated, own_end=None, rulebook=BOOK) == dated + timedelta(days=182)
        assert holds_until(dated=dated, own_end=date(2026, 12, 31), rulebook=BOOK) == date(2026, 12, 31)
        assert holds_until(dated=dated, own_end=date(2026, 1, 2), rulebook=BOOK) == date(2026, 1, 2)


class TestThirdALetterWithoutDetailClearsTheGateOnly:
    def test_the_gate_opens_to_light_and_moderate_and_each_limit_stays(self):
        letter = replace(LETTER, answers=frozenset({"leaf 5"}))
        before, after = found(**DIABETIC), found(**DIABETIC, letters=(letter,))
        assert (before.outcome, after.outcome) == (Outcome.REFER, Outcome.CLEAR_LIMITED)
        assert after.limits == before.limits

    def test_the_reason_stays_in_the_list_and_names_the_letter(self):
        told = found(**DIABETIC, letters=(replace(LETTER, answers=frozenset({"leaf 5"})),))
        (answered,) = [one for one in told.reasons if one.rule_id == "leaf 5"]
        assert (answered.outcome, answered.answered_by) == (Outcome.CLEAR_LIMITED, "7")

    def test_a_letter_that_allows_hard_work_leaves_the_gate_clear(self):
        letter = replace(LETTER, answers=frozenset({"leaf 5"}), effort=Intensity.VIGOROUS)
        assert found(**DIABETIC, letters=(letter,)).outcome is Outcome.CLEAR

    def test_a_letter_about_something_else_answers_nothing(self):
        assert found(**DIABETIC, letters=(replace(LETTER, answers=frozenset({"leaf 6"})),)).outcome is Outcome.REFER

    def test_a_sign_told_after_the_letter_was_confirmed_waits_for_a_new_one(self):
        letter = replace(LETTER, answers=frozenset({"leaf 3"}), told=frozenset({"S6"}))
        assert found(symptoms=frozenset({"S6"}), letters=(letter,)).outcome is Outcome.CLEAR_LIMITED
        assert found(symptoms=frozenset({"S6", "S7"}), letters=(letter,)).outcome is Outcome.REFER

    def test_a_letter_about_the_left_hip_does_not_answer_an_operation_of_the_right(self):
        left, right = (ActiveCondition("C26", side, ON - timedelta(days=20)) for side in (Side.LEFT, Side.RIGHT))
        about = next(one.about for one in found(conditions=(left,)).reasons if one.rule_id == "C26")
        letter = replace(LETTER, answers=frozenset({"C26"}), told=frozenset(about))
        assert found(conditions=(left,), letters=(letter,)).outcome is Outcome.CLEAR_LIMITED
        assert found(conditions=(left, right), letters=(letter,)).outcome is Outcome.REFER

    def test_an_open_window_stays_clear_with_limits_at_best_whatever_the_release(self):
        hip = ActiveCondition("C26", Side.LEFT, ON - timedelta(days=20))
        letter = replace(LETTER, answers=frozenset({"C26"}), effort=Intensity.VIGOROUS)
        assert found(conditions=(hip,), letters=(letter,)).outcome is Outcome.CLEAR_LIMITED

    def test_hard_work_with_a_known_disease_opens_by_a_letter_dated_within_12_months(self):
        # riebe2015, second hand: leaf 14, clear with a clearance dated within 12 months, otherwise light to moderate.
        active = {**DIABETIC, "regularly_active": True, "intensity": Intensity.VIGOROUS}
        letter = replace(LETTER, answers=frozenset({"leaf 14"}), effort=Intensity.VIGOROUS)
        letter = replace(letter, dated=ON - timedelta(days=364))
        assert found(**active).outcome is Outcome.CLEAR_LIMITED
        assert found(**active, letters=(letter,)).outcome is Outcome.CLEAR
        assert found(**active, letters=(letter,)).look_again_on == ON + DAY
        assert found(**active, letters=(letter,), on=ON + DAY).outcome is Outcome.CLEAR_LIMITED
        assert found(**active, letters=(replace(letter, effort=None),)).outcome is Outcome.CLEAR_LIMITED

    def test_somebody_new_to_exercise_starts_light_whatever_the_letter_says(self):
        # riebe2015, second hand: leaf 2 asks for no clearance, so there is nothing to answer.
        letter = replace(LETTER, answers=frozenset({"leaf 2"}), effort=Intensity.VIGOROUS)
        assert found(intensity=Intensity.VIGOROUS, letters=(letter,)).outcome is Outcome.CLEAR_LIMITED

    def test_of_two_letters_the_one_that_opens_more_answers(self):
        light = replace(LETTER, answers=frozenset({"leaf 5"}), holds_until=ON + timedelta(days=300))
        hard = replace(light, letter_id="8", effort=Intensity.VIGOROUS, holds_until=ON + timedelta(days=10))
        told = found(**DIABETIC, letters=(light, hard))
        assert (told.outcome, {one.answered_by for one in told.reasons}) == (Outcome.CLEAR, {"8"})


class TestFourthTheStrictestLevelPerDemand:
    def test_a_fused_and_a_thin_spine_together_avoid_loaded_rounding(self):
        # The example of the trade notes: adapt in C12b, avoid in C01.
        alone = levels_of(found(conditions=(ActiveCondition("C12b"),)).limits)
        both = levels_of(found(conditions=(ActiveCondition("C12b"), *THIN_BONES)).limits)
        assert (alone["flex_loaded"], both["flex_loaded"]) == (Level.ADAPT, Level.AVOID)

    def test_a_condition_milder_than_a_teachers_wish_gives_way_to_it_and_a_stricter_one_does_not(self):
        for level, expected in ((Level.AVOID, Level.AVOID), (Level.WATCH, Level.ADAPT)):
            wish = Restriction(frozenset({"straining"}), told_at="teacher:3", level=level)
            assert levels_of(found(conditions=THIN_BONES, restrictions=(wish,)).limits)["straining"] is expected


class TestFifthASidedFindingLimitsItsOwnSide:
    def test_a_wish_for_one_side_limits_that_side_only(self):
        wish = Restriction(frozenset({"kneel"}), told_at="teacher:3", level=Level.ADAPT, side=Side.RIGHT)
        (limit,) = found(restrictions=(wish,)).limits
        assert (limit.side, limit.level, limit.because) == (Side.RIGHT, Level.ADAPT, ("teacher:3",))
        assert limit.how == BOOK.demands["kneel"].default_adapt

    def test_a_letter_relaxes_the_side_that_no_wish_holds(self):
        wrists = (WRIST, replace(WRIST, side=Side.RIGHT))
        wish = Restriction(frozenset({"wrist_wb"}), told_at="teacher:3", side=Side.RIGHT)
        letter = replace(LETTER, allows=frozenset({"wrist_wb"}))
        told = found(conditions=wrists, restrictions=(wish,), letters=(letter,))
        assert [one.side for one in told.limits if one.demand == "wrist_wb"] == [Side.RIGHT]
        assert [(one.demand, one.side) for one in told.relaxed] == [("wrist_wb", Side.LEFT)]

    def test_an_unsure_side_limits_both(self):
        unsure = found(conditions=(replace(WRIST, side=None),))
        assert {one.side for one in unsure.limits} == {Side.BOTH}


class TestSixthTodayMayAddAndNeverRemoves:
    def test_a_day_without_complaints_takes_nothing_away(self):
        told = {**DIABETIC, "letters": (replace(LETTER, answers=frozenset({"leaf 5"})),)}
        assert found(**told, today=frozenset()) == found(**told)

    def test_a_fever_postpones_what_a_letter_has_opened(self):
        told = {**DIABETIC, "letters": (EVERYTHING,)}
        assert found(**told).outcome is Outcome.CLEAR
        assert found(**told, today=frozenset({Today.FEVER})).outcome is Outcome.POSTPONE


class TestSeventhTheInstructorMayAlwaysDoLess:
    @pytest.mark.parametrize(
        ("told_at", "words"), [("teacher:3", ASKED_BY_TEACHER), ("letter:3", ASKED_BY_LETTER), ("H16", TOLD_TO_AVOID)]
    )
    def test_what_she_leaves_out_is_avoided_in_her_own_name(self, told_at, words):
        wish = Restriction(frozenset({"inversion"}), told_at=told_at)
        (limit,) = found(restrictions=(wish,)).limits
        assert (limit.level, limit.because, limit.how) == (Level.AVOID, (told_at,), words)

    def test_she_leaves_out_even_what_a_letter_and_the_owner_allow(self):
        wish = Restriction(frozenset({"flex_loaded"}), told_at="teacher:3")
        facts = replace(WELL, conditions=THIN_BONES, restrictions=(wish,), letters=(EVERYTHING,))
        told = screen(facts, BOOK, on=ON, choices=Choices(positions_b=frozenset({"D01"})))
        assert levels_of(told.limits) == {"flex_loaded": Level.AVOID, "rot_flex": Level.AVOID}

    def test_a_wish_for_a_movement_the_book_does_not_know_is_loud(self):
        with pytest.raises(KeyError):
            found(restrictions=(Restriction(frozenset({"somersault"})),))


def test_answers_age_from_the_whole_form_when_a_short_one_came_later():
    told = replace(WELL, written_on=ON, whole_on=ON - timedelta(days=364))
    assert screen(told, BOOK, on=ON).valid_until == ON
    assert screen(told, BOOK, on=ON + DAY).outcome is Outcome.INCOMPLETE
