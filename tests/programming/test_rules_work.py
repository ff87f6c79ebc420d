"""Force and work of one line for one person, and today's springs beside those of last time."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programming.rules import travel, work
from programming.rules.repertoire import SpringEffect
from programming.rules.springs import felt
from programming.rules.travel import Bench, Legs, RestsOn
from programming.rules.work import Change, Stroke, StrokeOf, Work
from scheduling.rules.springs import CLASSES, SpringFact
from studio.rules import Refused
from tests.programming.reference import REPERTOIRE

LIGHT, MEDIUM, HEAVY = SpringFact(100, 0.05, "light"), SpringFact(200, 0.05, "medium"), SpringFact(350, 0.05, "heavy")
LEGS = Legs(0.4, 0.4, 0.5, 1.0, 0.0, RestsOn.MEASURED)
BENCH = Bench(0.9, 0.0, 1.0, ())
springs = st.lists(
    st.builds(SpringFact, st.floats(60, 500), st.floats(0, 0.1), st.sampled_from(CLASSES)), min_size=1, max_size=5
)


def sure(metres, of=StrokeOf.LEGS):
    return Stroke.sure(of, metres)


def test_eight_repetitions_on_one_spring_over_half_a_metre_are_174_joules_outward():
    # worked example of the reference: k 150 N/m, x0 0.04 m, 0 to 0.50 m, eight repetitions
    line = Work((SpringFact(150, 0.04, "light"),), sure(0.50), 8)
    assert line.a_set == pytest.approx(174.0)
    assert line.a_repetition == pytest.approx(174.0 / 8)


def test_force_at_rest_and_at_full_travel_of_three_springs():
    # worked example of the reference: heavy, medium and light defaults at 0.40 m pull 292.5 N
    line = Work((HEAVY, MEDIUM, LIGHT), sure(0.40), 10)
    assert line.at_end == pytest.approx(292.5)
    assert line.at_rest == pytest.approx(32.5)
    assert not line.is_calibrated


def test_both_sides_are_strokes_of_one_set():
    line = Work((MEDIUM,), sure(0.40), 16)
    assert line.a_set == pytest.approx(16 * 0.5 * 200 * (0.45**2 - 0.05**2))


def test_a_longer_body_meets_more_force_at_the_end_of_the_same_springs():
    row, long = REPERTOIRE["R-FW1"], Legs(0.46, 0.46, 0.5, 1.1, 0.0, RestsOn.MEASURED)
    short, tall = (Work((HEAVY,), work.stroke_for(row, body, BENCH), 1) for body in (LEGS, long))
    assert tall.at_end > short.at_end and tall.a_repetition > short.a_repetition
    assert tall.at_rest == short.at_rest


def test_an_estimated_leg_gives_work_a_span():
    body = Legs(0.4, 0.4, 0.5, 1.0, 0.06, RestsOn.LINE)
    line = Work((MEDIUM,), work.stroke_for(REPERTOIRE["R-FW1"], body, BENCH), 1)
    least, most = line.span
    assert least < line.a_repetition < most
    assert Work((MEDIUM,), work.stroke_for(REPERTOIRE["R-FW1"], LEGS, BENCH), 1).span is None


@pytest.mark.parametrize(
    ("row", "known", "seen", "of", "metres"),
    [
        ("R-FW1", True, None, StrokeOf.LEGS, 0.4),
        ("R-FW4", True, None, StrokeOf.HELD, 0.4),
        ("R-FW1", False, None, StrokeOf.USUAL, 0.4),
        ("R-FW1", True, 0.33, StrokeOf.SEEN, 0.33),
        ("R-LB2", True, None, StrokeOf.USUAL, 0.4),
        ("R-SB1", True, None, StrokeOf.STILL, 0.0),
        ("R-SB1", True, 0.33, StrokeOf.STILL, 0.0),
    ],
)
def test_what_makes_the_stroke(row, known, seen, of, metres):
    found = work.stroke_for(REPERTOIRE[row], LEGS if known else None, BENCH, seen)
    assert (found.of, found.metres) == (of, pytest.approx(metres))


def test_a_body_that_does_not_fit_is_refused_for_footwork_and_for_nothing_else():
    with pytest.raises(Refused):
        work.stroke_for(REPERTOIRE["R-FW1"], LEGS, Bench(0.4, 0.0, 1.0, ()))
    assert work.stroke_for(REPERTOIRE["R-LB2"], LEGS, Bench(0.4, 0.0, 1.0, ())).of is StrokeOf.USUAL


def test_springs_that_hold_still_and_legs_that_stay_straight_do_no_reckoned_work():
    for of in (StrokeOf.STILL, StrokeOf.HELD):
        line = Work((HEAVY,), sure(0.4, of), 5)
        assert line.a_repetition is None and line.a_set is None and line.span is None
        assert line.at_end == pytest.approx(350 * 0.45)


def test_at_a_pedal_the_force_is_the_springs_times_the_arms_and_the_work_stays():
    # pedal force = spring force x (spring arm / pedal arm); what the pedal moves more it presses less
    line = Work((MEDIUM,), sure(0.2, StrokeOf.USUAL), 1, share=0.5)
    assert line.at_end == pytest.approx(0.5 * 200 * 0.25)
    assert line.a_repetition == pytest.approx(0.5 * 200 * (0.25**2 - 0.05**2))


def test_a_spring_stretched_by_its_whole_length_is_named():
    short = SpringFact(100, 0.05, "light", free_length=0.40)
    assert Work((short, HEAVY), sure(0.36), 1).overstretched == (short,)
    assert Work((short, HEAVY), sure(0.34), 1).overstretched == ()


# --- beside last time ------------------------------------------------------------------------------------------------


def test_the_same_springs_within_four_percent_are_the_same():
    found = work.compared([MEDIUM], [SpringFact(206, 0.05, "medium")], sure(0.4), SpringEffect.RESIST)
    assert (found.change, found.words) == (Change.SAME, "the same springs")


def test_other_springs_may_come_to_the_same_work():
    # two mediums against a heavy and half a light: 400 against 400 N/m
    found = work.compared([MEDIUM, MEDIUM], [HEAVY, SpringFact(50, 0.05, "light")], sure(0.4), SpringEffect.RESIST)
    assert (found.change, found.percent) == (Change.ALIKE, 0)


def test_a_lighter_set_is_told_in_percent_and_in_what_it_does():
    found = work.compared([MEDIUM], [MEDIUM, MEDIUM], sure(0.4), SpringEffect.RESIST)
    assert (found.percent, found.words) == (-50, "50 % less work outward: easier")
    assist = work.compared([MEDIUM], [MEDIUM, MEDIUM], sure(0.4), SpringEffect.ASSIST)
    assert assist.words.endswith(": harder")


def test_where_nothing_moves_forces_are_compared():
    found = work.compared([HEAVY], [MEDIUM], sure(0.0, StrokeOf.STILL), SpringEffect.FIX)
    assert found.words == "75 % more force: no change of work"


def test_springs_without_tension_at_rest_do_not_break_a_comparison():
    slack = SpringFact(200, 0.0, "medium")
    found = work.compared([HEAVY], [slack], sure(0.0, StrokeOf.STILL), SpringEffect.FIX)
    assert found.change is Change.MORE


@given(springs, springs, st.floats(0.05, 0.9))
def test_more_and_less_are_told_both_ways_round(one, other, metres):
    there = work.compared(one, other, sure(metres), SpringEffect.RESIST)
    back = work.compared(other, one, sure(metres), SpringEffect.RESIST)
    mirror = {Change.MORE: Change.LESS, Change.LESS: Change.MORE}
    assert back.change is mirror.get(there.change, there.change)


def test_no_figure_speaks_of_kilocalories():
    assert not {name for name in dir(Work) + dir(work) + dir(travel) if "cal" in name.lower()} - {
        "calibrated",
        "is_calibrated",
    }


@pytest.mark.parametrize(
    ("effect", "more", "less"),
    [
        (SpringEffect.RESIST, "harder", "easier"),
        (SpringEffect.ASSIST, "easier", "harder"),
        (SpringEffect.MIXED, "usually easier", "usually harder"),
        (SpringEffect.FIX, "no change of work", "no change of work"),
    ],
)
def test_more_spring_is_harder_or_easier_by_what_it_does_in_the_row(effect, more, less):
    # the meaning of spring_effect: common practice, no source
    assert (felt(effect, 1), felt(effect, -1), felt(effect, 0)) == (more, less, "")
