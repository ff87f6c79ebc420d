"""Travel of the carriage in lying footwork, from body ratios and two links.

Source of the ratios (sources.csv): drillis1966, Drillis and Contini as drawn in Winter, Biomechanics and Motor Control
of Human Movement, from memory: thigh 0.245, shank 0.246, shoulder to hip 0.288 of stature. The geometry is the house's
own; no published table of carriage travel was found, so these checks are the same triangle reckoned another way.
"""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from programming.rules.travel import Bench, Legs, RestsOn, bar_to_rest_for, legs_of, sizes_from, travel, travel_span
from studio.rules import Refused
from tests.reference import table

SIZES = sizes_from(table("segment_ratios"), table("leg_length_regression"))
# drillis1966, from memory
THIGH, SHANK, TRUNK = 0.245, 0.246, 0.288
STATURES = st.floats(1.45, 2.0)
BARS = st.floats(0.75, 1.15)
HEIGHTS = st.floats(0.0, 0.3)


def drawn(stature):
    """The drawn body of this stature, by the ratios alone."""
    return Legs(THIGH * stature, SHANK * stature, TRUNK * stature, 0.0, 0.0, RestsOn.RATIO)


def travelled(legs, bench):
    """The travel, or nothing to check for a body that does not fit this machine."""
    try:
        return travel(legs, bench)
    except Refused:
        assume(False)
        raise


def test_a_body_of_known_height_and_no_sex_has_the_ratios_of_the_drawn_one():
    # drillis1966: each length is its share of stature
    legs = legs_of(SIZES, stature_mm=1700, leg_mm=None)
    assert (legs.thigh, legs.shank, legs.trunk) == pytest.approx((0.4165, 0.4182, 0.4896))


def test_a_worked_body_of_one_metre_seventy():
    # drillis1966 for the lengths; by hand: X0 = 0.95 - 0.4896, R0 = hypot(X0, 0.10), law of cosines, X1 = straight legs
    found = travel(drawn(1.70), Bench(0.95, 0.10, 1.2))
    assert found.start == pytest.approx(0.4604)
    assert found.bend == pytest.approx(111.27, abs=0.02)
    assert found.metres == pytest.approx(0.3683, abs=0.0002)


@given(STATURES, BARS, HEIGHTS)
def test_two_links_bent_so_far_reach_from_the_hip_to_the_bar(stature, bar, up):
    # Own geometry: walk along thigh and shank with the angle found, and stand at the bar
    legs = drawn(stature)
    found = travelled(legs, Bench(bar, up, 2.0))
    knee = legs.thigh, 0.0
    turned = math.radians(found.bend)
    foot = knee[0] + legs.shank * math.cos(turned), knee[1] + legs.shank * math.sin(turned)
    assert math.hypot(*foot) == pytest.approx(math.hypot(found.start, up))


@given(STATURES, BARS, HEIGHTS)
def test_straight_legs_end_at_their_whole_length(stature, bar, up):
    legs = drawn(stature)
    found = travelled(legs, Bench(bar, up, 2.0))
    assert math.hypot(found.end, up) == pytest.approx(legs.thigh + legs.shank)


@given(STATURES, BARS, HEIGHTS, st.floats(0.01, 0.08))
def test_a_notch_out_takes_exactly_its_length_from_the_travel(stature, bar, up, notch):
    near = travelled(drawn(stature), Bench(bar, up, 2.0))
    far = travelled(drawn(stature), Bench(bar + notch, up, 2.0))
    assert near.metres - far.metres == pytest.approx(notch)


@given(STATURES, st.floats(60, 130), HEIGHTS)
def test_the_stop_for_a_wanted_bend_gives_that_bend(stature, bend, up):
    legs = drawn(stature)
    try:
        bar = bar_to_rest_for(legs, bend, foot_above_hip=up)
    except Refused:
        return
    assert travelled(legs, Bench(bar, up, 2.0)).bend == pytest.approx(bend, abs=1e-6)


@given(BARS, st.floats(0.0, 0.2), st.floats(1.5, 1.9), st.floats(0.02, 0.1))
def test_a_longer_body_travels_farther_on_the_same_machine(bar, up, stature, more):
    # drillis1966: legs grow by 0.491 and the trunk by 0.288 of every centimetre, so the straight end moves out
    short = travelled(drawn(stature), Bench(bar, up, 2.0))
    tall = travelled(drawn(stature + more), Bench(bar, up, 2.0))
    assert tall.metres > short.metres


def test_the_track_ends_a_travel_and_that_is_said():
    found = travel(drawn(1.95), Bench(0.80, 0.1, 0.40))
    assert (found.metres, found.is_stopped) == (0.40, True)


@pytest.mark.parametrize(("bar", "code"), [(0.40, "too_close"), (1.60, "out_of_reach")])
def test_a_body_that_does_not_fit_is_told_so(bar, code):
    with pytest.raises(Refused) as refused:
        travel(drawn(1.70), Bench(bar, 0.1, 1.2))
    assert refused.value.reasons[0].code == code


def test_a_leg_that_was_measured_has_no_span_and_an_estimated_one_has_about_six_centimetres_each_way():
    # ansur2: 1.96 times a residual spread of about 30 mm
    measured = legs_of(SIZES, stature_mm=1700, leg_mm=1090, sex="female")
    estimated = legs_of(SIZES, stature_mm=1700, leg_mm=None, sex="female")
    bench = Bench(0.95, 0.1, 1.2)
    sure, unsure = travel_span(measured, bench), travel_span(estimated, bench)
    assert sure.least == sure.metres == sure.most
    assert estimated.error == pytest.approx(0.0588, abs=0.0001)
    assert unsure.least < unsure.metres < unsure.most


@pytest.mark.parametrize("sex", ["female", "male"])
def test_at_the_mean_stature_the_line_gives_the_mean_leg(sex):
    # ansur2: mean stature and mean functional leg length of that sex
    means = {row["segment"]: float(row["mean_mm"]) for row in table("segment_ratios") if row["sex"] == sex}
    legs = legs_of(SIZES, stature_mm=means["stature"], leg_mm=None, sex=sex)
    assert 1000 * legs.leg == pytest.approx(means["functional_leg_length"], abs=0.5)
    assert legs.rests_on is RestsOn.LINE


def test_thigh_and_shank_of_an_average_leg_are_those_of_the_drawn_body():
    # drillis1966 for the shares, ansur2 for the leg: an average woman's leg gives an average woman's thigh
    means = {row["segment"]: float(row["mean_mm"]) for row in table("segment_ratios") if row["sex"] == "female"}
    legs = legs_of(SIZES, stature_mm=means["stature"], leg_mm=means["functional_leg_length"], sex="female")
    assert 1000 * legs.thigh == pytest.approx(THIGH * means["stature"], rel=0.002)
    assert 1000 * legs.shank == pytest.approx(SHANK * means["stature"], rel=0.002)
