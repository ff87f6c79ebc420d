"""What the owner may choose: two positions the sources bear out, and lines that only ever get stricter."""

from dataclasses import replace
from datetime import timedelta

import pytest

from clients.rules import Choices, Outcome, Pressure, Readings, screen
from clients.rules.adjusting import AS_STATED, PointKind, adjusted, chosen_from, idle, points, refusal
from clients.rules.facts import Disease
from tests.clients.told import BOOK, LINES, ON, WELL

POINTS = {point.id: point for point in points(BOOK)}
US = Choices(regime="us")


def measured(*pairs: tuple[int, int], choices: Choices = AS_STATED):
    taken = Readings(tuple(Pressure(*pair) for pair in pairs), is_treated=True)
    return screen(replace(WELL, regularly_active=True, readings=taken), BOOK, on=ON, choices=choices)


def test_every_disagreement_is_a_point_with_both_positions_and_their_sources():
    shown = {point.id: point for point in POINTS.values() if point.kind is PointKind.POSITION}
    assert set(shown) == {"regime", *(set(BOOK.disagreements) - {"D02"})}
    for row in BOOK.disagreements.values():
        point = shown["regime" if row.id == "D02" else row.id]
        assert (point.position_a, point.sources_a) == (row.position_a, row.sources_a)
        assert (point.position_b, point.sources_b) == (row.position_b, row.sources_b)
        assert point.default_rule == row.default_rule


def test_only_diabetes_and_the_diastolic_line_leave_a_position_to_choose():
    assert {point.id for point in POINTS.values() if point.options} == {"D01", "regime"}
    assert POINTS["regime"].options == ("uk", "us")
    assert POINTS["D01"].options == ("a", "b")


def test_what_a_point_touches_are_rows_of_the_book():
    rows = {f"leaf {leaf.leaf}" for leaf in BOOK.leaves} | {
        *BOOK.bp_gates,
        *BOOK.pregnancy_gates,
        *BOOK.conditions,
        *BOOK.intervals,
    }
    assert all(point.touches and set(point.touches) <= rows for point in POINTS.values())


def test_every_line_of_every_gate_is_a_point_but_the_one_that_only_records_a_position():
    expected = {
        f"{gate.id}.{name}"
        for gate in BOOK.bp_gates.values()
        for name, value in (("systolic", gate.sbp), ("diastolic", gate.dbp), ("pulse", gate.hr))
        if value is not None
    }
    assert {point.id for point in LINES if point.op != "days"} == expected - {"G10.pulse"}
    assert {point.id for point in LINES if point.op == "days"} == {
        "screening_form.days",
        "clearance_letter.days",
        "vigorous_clearance.days",
        "absence_middle.days",
        "absence_long.days",
    }


def test_the_disputed_lines_show_both_positions():
    # bacr2006, bhf2008 against acsm_guidelines10, review2024_bp; and against heartonline_au.
    assert POINTS["G01.diastolic"].position_b == "more than 110"
    assert POINTS["G09.pulse"].sources_b == ("heartonline_au",)


@pytest.mark.parametrize("point", LINES, ids=lambda point: point.id)
def test_a_line_may_stay_or_get_stricter_and_not_one_step_looser(point):
    looser = point.bound - 1 if point.op == "lt" else point.bound + 1
    assert refusal(point, point.bound) is None
    assert refusal(point, point.farthest) is None
    assert refusal(point, looser).code == "too_loose"
    too_far = point.farthest + 1 if point.op == "lt" else point.farthest - 1
    assert refusal(point, too_far).code == "too_far"


@pytest.mark.parametrize(
    ("point_id", "value", "code"),
    [
        ("G01.systolic", "high", "not_a_number"),
        ("G01.systolic", "-5", "not_a_number"),
        ("G01.systolic", "170.5", "not_a_number"),
        ("G01.systolic", "١٧٠", "not_a_number"),
        ("regime", "au", "unknown_option"),
        ("D01", "c", "unknown_option"),
        ("D03", "b", "not_open"),
        ("D12", "a", "not_open"),
    ],
)
def test_what_cannot_be_chosen_is_refused_with_what_could_be(point_id, value, code):
    refused = refusal(POINTS[point_id], value)
    assert refused.code == code
    assert refused.field == "value"
    assert code == "not_open" or refused.allowed


def test_words_are_taken_for_the_numbers_they_are():
    assert refusal(POINTS["G01.systolic"], " 170 ") is None
    kept = {"regime": "us", "D01": "b", "G01.systolic": "170", "screening_form.days": "180"}
    lines = {"G01.systolic": 170, "screening_form.days": 180}
    assert chosen_from(kept) == Choices("us", frozenset({"D01"}), lines)
    assert chosen_from({"D01": "a"}) == Choices()


@pytest.mark.parametrize("kept", [{"regime": "au"}, {"D03": "b"}, {"D12": "b"}, {"D01": "c"}, {"G01.systolic": "low"}])
def test_what_is_kept_and_cannot_be_chosen_is_loud(kept):
    with pytest.raises(ValueError, match=r"."):
        chosen_from(kept)


def test_a_stricter_line_is_met_earlier_and_says_whose_choice_it_was():
    chosen = Choices(lines={"G01.systolic": 170})
    assert measured((172, 80), (172, 80)).outcome is Outcome.REFER
    found = measured((172, 80), (172, 80), choices=chosen)
    assert found.outcome is Outcome.POSTPONE
    assert {one.rule_id: one.chosen for one in found.reasons}["G01"] == "G01.systolic"
    assert {one.rule_id: one.chosen for one in found.reasons}["G03"] == ""


def test_a_line_that_would_have_been_met_anyhow_bears_no_mark():
    found = measured((185, 80), choices=Choices(lines={"G01.systolic": 170}))
    assert {one.chosen for one in found.reasons} == {""}


def test_a_lower_line_for_the_repeat_also_asks_for_the_repeat():
    chosen = Choices(lines={"G03.systolic": 130})
    assert measured((135, 80), choices=chosen).outcome is Outcome.INCOMPLETE
    assert measured((135, 80), (134, 80), choices=chosen).outcome is Outcome.REFER
    missing = next(one for one in measured((135, 80), choices=chosen).reasons if one.outcome is Outcome.INCOMPLETE)
    assert missing.chosen == "G03.systolic"


def test_a_slow_pulse_line_gets_stricter_upward():
    sign = replace(WELL, symptoms=frozenset({"S9"}), readings=Readings(heart_rate=54))
    chosen = Choices(lines={"G11.pulse": 55})
    assert "G11" not in {one.rule_id for one in screen(sign, BOOK, on=ON).reasons}
    assert "G11" in {one.rule_id for one in screen(sign, BOOK, on=ON, choices=chosen).reasons}


def test_looser_lines_in_the_records_move_nothing():
    looser = {point.id: point.bound - 20 if point.op == "lt" else point.bound + 20 for point in LINES}
    book = adjusted(BOOK, Choices(lines=looser | {"G10.pulse": 60, "spring_inspection.days": 1}))
    assert book.bp_gates == BOOK.bp_gates
    assert book.intervals == BOOK.intervals


def test_a_line_of_nought_days_moves_nothing():
    assert adjusted(BOOK, Choices(lines={"screening_form.days": 0})).intervals == BOOK.intervals


def test_lines_that_move_nothing_in_a_book_are_named():
    kept = Choices(lines={"G01.systolic": 170, "G03.systolic": 190, "G99.systolic": 100, "G10.pulse": 90})
    assert idle(BOOK, kept) == ("G03.systolic", "G10.pulse", "G99.systolic")


def test_the_regime_us_moves_only_the_diastolic_line_and_says_so_where_the_default_would_have_postponed():
    # acsm_guidelines10, review2024_bp: more than 110
    assert measured((150, 105), (150, 105)).outcome is Outcome.POSTPONE
    found = measured((150, 105), (150, 105), choices=US)
    assert found.outcome is Outcome.REFER
    assert {one.rule_id: one.chosen for one in found.reasons if one.rule_id.startswith("G")} == {
        "G03": "regime",
        "G05": "regime",
    }
    assert measured((150, 111), (150, 111), choices=US).outcome is Outcome.POSTPONE
    assert {one.chosen for one in measured((150, 95), (150, 95), choices=US).reasons} == {""}


def test_the_second_position_on_diabetes_is_marked_and_shows_its_sources():
    diabetic = replace(WELL, diseases=frozenset({Disease.DIABETES}))
    found = screen(diabetic, BOOK, on=ON, choices=Choices(positions_b=frozenset({"D01"})))
    (leaf,) = [one for one in found.reasons if one.rule_id == "leaf 5"]
    assert (found.outcome, leaf.chosen, leaf.source_ids) == (Outcome.CLEAR_LIMITED, "D01", ("colberg2017",))


def test_a_shorter_life_of_the_form_ends_it_sooner_and_says_so():
    chosen = Choices(lines={"screening_form.days": 183})
    found = screen(WELL, BOOK, on=ON, choices=chosen)
    assert found.valid_until == ON + timedelta(days=182)
    after = screen(WELL, BOOK, on=ON + timedelta(days=183), choices=chosen)
    assert after.outcome is Outcome.INCOMPLETE
    assert {one.chosen for one in after.reasons if one.rule_id == "screening_form"} == {"screening_form.days"}


def test_the_same_choices_give_the_same_book_and_none_gives_the_stated_one():
    lines = {"G01.systolic": 170}
    assert adjusted(BOOK, Choices(lines=lines)) is adjusted(BOOK, Choices(lines=dict(lines)))
    assert adjusted(BOOK, Choices()) is BOOK
    assert adjusted(BOOK, US) is BOOK
