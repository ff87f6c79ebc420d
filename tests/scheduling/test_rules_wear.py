"""Wear of a spring: Miner's sum, age, findings. The figures are assumptions; the rule of Miner is from memory."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.rules import wear
from scheduling.rules.springs import SpringFact
from scheduling.rules.wear import Advice, Finding, Strokes

HUNG = date(2026, 1, 5)
MEDIUM = SpringFact(200, 0.05, "medium", calibrated=True, free_length=0.5)
strokes = st.lists(st.builds(Strokes, st.integers(0, 5000), st.floats(1, 300)), max_size=8)


def advice(used: float = 0.0, *, days: int = 30, **more) -> Advice:
    return wear.judge(used, fitted_on=HUNG, on=HUNG + timedelta(days=days), **more).advice


def test_at_its_rated_force_a_spring_lasts_a_million_cycles():
    # assumption of the studio: N_ref 1,000,000 at the force of rated extension
    rated = wear.rated_force(MEDIUM)
    assert rated == pytest.approx(200 * 0.55)
    assert wear.used_up([Strokes(1_000_000, rated)], rated=rated) == pytest.approx(1)


def test_half_the_force_wears_a_thirty_second_part():
    # N_j = N_ref (F_ref / F_j)^m with m = 5 (assumption), Miner's rule from memory: 2^5 = 32
    assert wear.used_up([Strokes(1000, 55)], rated=110) == pytest.approx(float(Fraction(1000, 1_000_000 * 32)))


def test_parts_of_a_life_add_up():
    # Miner's sum, from memory, in exact fractions: 1/4 + 3/4 * (4/5)^5
    whole = Fraction(1, 4) + Fraction(3, 4) * Fraction(4, 5) ** 5
    some = [Strokes(250_000, 100), Strokes(750_000, 80)]
    assert wear.used_up(some, rated=100) == pytest.approx(float(whole))


@given(strokes, st.floats(50, 500))
def test_strokes_put_together_use_a_spring_up_as_much_as_one_by_one(some, rated):
    one = wear.together(some)
    assert one.cycles == sum(stroke.cycles for stroke in some)
    assert wear.used_up([one], rated=rated) == pytest.approx(wear.used_up(some, rated=rated), rel=1e-9, abs=1e-12)


@given(strokes.filter(lambda some: sum(one.cycles for one in some)))
def test_the_one_force_lies_between_the_weakest_and_the_strongest(some):
    forces = [one.force for one in some if one.cycles]
    assert min(forces) * (1 - 1e-9) <= wear.together(some).force <= max(forces) * (1 + 1e-9)


def test_nothing_pulled_uses_nothing_up():
    assert wear.together([]) == Strokes(0, 0.0)
    assert wear.used_up([Strokes(5, 0.0)], rated=100) == 0


@pytest.mark.parametrize(
    ("used", "days", "expected"),
    [
        (0.0, 729, Advice.KEEP),
        (0.0, 730, Advice.REPLACE),  # 24 months, taken as 730 days (common practice, no source)
        (0.49, 30, Advice.KEEP),
        (0.5, 30, Advice.INSPECT),
        (0.79, 30, Advice.INSPECT),
        (0.8, 30, Advice.REPLACE),
    ],
)
def test_inspect_from_a_half_and_replace_from_eight_tenths_or_two_years(used, days, expected):
    assert advice(used, days=days) is expected


def test_a_look_this_week_answers_the_call_to_inspect_but_not_the_call_to_replace():
    day = HUNG + timedelta(days=30)
    assert advice(0.6, looked_on=day - timedelta(days=7)) is Advice.KEEP
    assert advice(0.6, looked_on=day - timedelta(days=8)) is Advice.INSPECT
    assert advice(0.9, looked_on=day) is Advice.REPLACE


@given(st.floats(0, 2), st.integers(0, 2000), st.sets(st.sampled_from(Finding), min_size=1))
def test_any_finding_by_eye_or_ear_overrides_every_figure(used, days, findings):
    judged = wear.judge(used, fitted_on=HUNG, on=HUNG + timedelta(days=days), findings=findings)
    assert judged.advice is Advice.TAKE_OUT
    assert all(finding.words in judged.because for finding in findings)


def test_an_unmeasured_length_is_assumed():
    assert wear.rated_force(SpringFact(200, 0.05, "medium")) == pytest.approx(200 * (wear.ASSUMED_LENGTH_M + 0.05))
