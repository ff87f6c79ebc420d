"""Travel in lying footwork: two links against hand-made triangles, and a body's lengths against the reference's lines.

The geometry is our own; no published table of carriage travel was found. Ratios are Drillis and Contini's, from memory;
the lines are computed from the public ANSUR II data (fixtures/reference/leg_length_regression.csv).
"""

import math
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from programming.rules import travel
from programming.rules.travel import Bench, Legs, RestsOn
from studio.rules import Refused
from tests.programming.reference import REPERTOIRE
from tests.reference import table

SIZES = travel.sizes_from(table("segment_ratios"), table("leg_length_regression"))


def legs(thigh=0.4, shank=0.4, trunk=0.5, error=0.0):
    return Legs(thigh, shank, trunk, 1.0, error, RestsOn.MEASURED)


def bench(bar=0.9, up=0.0, track=2.0):
    return Bench(bar, up, track, ())


def benches():
    return st.builds(Bench, st.floats(0.6, 1.3), st.floats(0, 0.3), st.floats(0.3, 1.2), st.just(()))


def bodies():
    return st.builds(
        lambda h, sex: travel.legs_of(SIZES, stature_mm=h, leg_mm=None, sex=sex),
        st.integers(1400, 2050),
        st.sampled_from(["female", "male", ""]),
    )


# --- the triangle ----------------------------------------------------------------------------------------------------


def test_an_equilateral_leg_starts_bent_by_a_hundred_and_twenty_degrees():
    found = travel.travel(legs(), bench(bar=0.9))
    assert found.start == pytest.approx(0.4)
    assert found.bend == pytest.approx(120)
    assert found.metres == pytest.approx(0.4)


def test_a_bar_above_the_hip_shortens_both_ends_by_pythagoras():
    # 0.32, 0.24, 0.40 is a right triangle; straight legs of 0.80 over 0.24 reach 0.8 * sqrt(0.91)
    found = travel.travel(legs(), bench(bar=0.82, up=0.24))
    assert found.bend == pytest.approx(120)
    assert found.metres == pytest.approx(0.8 * math.sqrt(0.91) - 0.32)


def test_a_right_angle_at_the_knee():
    # thigh 0.45 and shank 0.60 at a right angle: hip to foot 0.75
    found = travel.travel(legs(0.45, 0.60), bench(bar=1.25))
    assert found.bend == pytest.approx(90)
    assert found.metres == pytest.approx(1.05 - 0.75)


def test_the_track_ends_before_the_legs_are_straight():
    found = travel.travel(legs(), bench(bar=0.9, track=0.25))
    assert (found.metres, found.is_stopped) == (0.25, True)
    assert not travel.travel(legs(), bench(bar=0.9)).is_stopped


@pytest.mark.parametrize(
    ("body", "machine", "code"),
    [
        (legs(), bench(bar=0.5), "too_close"),
        (legs(), bench(bar=0.4), "too_close"),
        (legs(0.6, 0.3), bench(bar=0.7), "too_close"),
        (legs(), bench(bar=1.3), "out_of_reach"),
        (legs(), bench(bar=1.5), "out_of_reach"),
        (legs(), bench(bar=0.9, up=0.9), "out_of_reach"),
    ],
)
def test_a_body_that_cannot_press_here_is_told_so(body, machine, code):
    with pytest.raises(Refused) as refused:
        travel.travel(body, machine)
    assert refused.value.reasons[0].code == code


@given(bodies(), benches(), st.floats(-0.1, 0.1))
def test_one_notch_changes_the_travel_by_exactly_its_length(body, machine, notch):
    moved = Bench(machine.bar_to_rest + notch, machine.foot_above_hip, 5.0, ())
    try:
        before = travel.travel(body, Bench(machine.bar_to_rest, machine.foot_above_hip, 5.0, ()))
        after = travel.travel(body, moved)
    except Refused:
        assume(False)
    assert after.start - before.start == pytest.approx(notch)
    assert before.metres - after.metres == pytest.approx(notch)


@given(bodies(), benches())
def test_knee_hip_and_foot_close_a_triangle_at_the_start(body, machine):
    """The knee is placed by the angle that was found; it must lie a thigh from the hip and a shank from the foot."""
    try:
        found = travel.travel(body, machine)
    except Refused:
        assume(False)
    reach = math.hypot(found.start, machine.foot_above_hip)
    inner = math.radians(180 - found.bend)
    # Foot at the end of a shank turned by the inner angle away from the thigh.
    foot = (body.thigh - body.shank * math.cos(inner), body.shank * math.sin(inner))
    assert math.hypot(*foot) == pytest.approx(reach, abs=1e-6)


@given(bodies(), st.floats(40, 130), st.floats(0, 0.2))
def test_the_stop_proposed_for_a_bend_gives_that_bend(body, bend, up):
    bar = travel.bar_to_rest_for(body, bend, foot_above_hip=up)
    assert travel.travel(body, Bench(bar, up, 5.0, ())).bend == pytest.approx(bend, abs=1e-4)


def test_no_stop_gives_a_bend_that_brings_the_foot_under_the_bar():
    with pytest.raises(Refused):
        travel.bar_to_rest_for(legs(), 179, foot_above_hip=0.2)


@given(bodies(), benches())
def test_the_span_of_an_estimate_holds_the_estimate(body, machine):
    try:
        span = travel.travel_span(body, machine)
    except Refused:
        assume(False)
    assert 0 <= span.least <= span.metres <= span.most <= machine.track


def test_a_measured_leg_has_no_span():
    body = travel.legs_of(SIZES, stature_mm=1650, leg_mm=1060, sex="female")
    span = travel.travel_span(body, Bench())
    assert span.least == span.metres == span.most


# --- a body's lengths ------------------------------------------------------------------------------------------------


def test_a_leg_is_read_off_the_line_of_its_sex():
    # ANSUR II, computed: -96.0 + 0.7002 * 1650 mm, standard error 30.0 mm
    found = travel.legs_of(SIZES, stature_mm=1650, leg_mm=None, sex="female")
    assert found.leg == pytest.approx(float((Fraction("-96.0") + Fraction("0.7002") * 1650) / 1000))
    assert found.error == pytest.approx(1.96 * 0.030)
    assert found.rests_on is RestsOn.LINE


def test_leg_length_from_height_alone_is_known_to_about_six_centimetres():
    for sex in ("female", "male", ""):
        assert travel.legs_of(SIZES, stature_mm=1700, leg_mm=None, sex=sex).error == pytest.approx(0.06, abs=0.005)


def test_without_a_sex_thigh_and_shank_are_ratios_of_the_height():
    # Drillis and Contini, from memory: 0.245 and 0.246 of the stature, shoulder to hip 0.288
    found = travel.legs_of(SIZES, stature_mm=1700, leg_mm=None)
    assert (found.thigh, found.shank) == (pytest.approx(0.245 * 1.7), pytest.approx(0.246 * 1.7))
    assert (found.trunk, found.rests_on) == (pytest.approx(0.288 * 1.7), RestsOn.RATIO)


def test_a_measured_leg_beats_every_estimate_and_leaves_the_trunk_to_the_height():
    found = travel.legs_of(SIZES, stature_mm=1700, leg_mm=1100, sex="female")
    assert found.length == pytest.approx((0.245 + 0.246) * 1.1 / 0.6412)
    assert found.trunk == pytest.approx(0.288 * 1.7)
    assert (found.leg, found.error, found.rests_on) == (1.1, 0.0, RestsOn.MEASURED)


def test_an_average_leg_gives_the_ratios_of_an_average_body():
    measured = travel.legs_of(SIZES, stature_mm=None, leg_mm=0.6412 * 1650, sex="female")
    by_ratio = travel.legs_of(SIZES, stature_mm=1650, leg_mm=None)
    assert measured.length == pytest.approx(by_ratio.length)
    assert measured.trunk == pytest.approx(by_ratio.trunk)


def test_nothing_is_made_up_of_a_body_nobody_has_measured():
    assert travel.legs_of(SIZES, stature_mm=None, leg_mm=None, sex="male") is None


def test_a_length_nobody_has_measured_on_the_machine_is_named():
    found = travel.bench_of(0.97, None, 1.0)
    assert (found.bar_to_rest, found.foot_above_hip, found.track) == (0.97, travel.FOOT_ABOVE_HIP_M, 1.0)
    assert found.assumed == ("foot bar above the hip",)
    assert travel.bench_of(0.97, 0.1, 1.0).assumed == ()


def test_legs_make_the_travel_of_lying_footwork_only():
    lying = {key for key, row in REPERTOIRE.items() if travel.is_lying_footwork(row)}
    held = {key for key, row in REPERTOIRE.items() if travel.is_held_out(row)}
    assert lying == {"R-FW1", "R-FW2", "R-FW3", "R-FW5"}
    assert held == {"R-FW4", "R-RUN"}
