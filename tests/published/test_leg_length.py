"""Sizes of bodies: leg length from stature, and the ratios of the drawn body.

Sources (sources.csv): ansur2, Gordon CC et al., NATICK/TR-15/007, 2014: 1,986 women and 4,082 men, soldiers and not
studio clients; means, deviations and regressions were computed from its public data. drillis1966, Drillis and Contini
as drawn in Winter, Biomechanics and Motor Control of Human Movement: ratios to stature, from memory.
"""

import math

import pytest

from tests.reference import table

SEXES = ("female", "male")
SIZES = {(row["segment"], row["sex"]): row for row in table("segment_ratios") if row["source_ids"] == "ansur2"}
RATIOS = {
    row["segment"]: float(row["ratio_to_stature"])
    for row in table("segment_ratios")
    if row["source_ids"] == "drillis1966"
}
LINES = table("leg_length_regression")
LEGS = {row["sex"]: row for row in LINES if row["measure"] == "functional_leg_length"}
# Ratios of the drawn body: Drillis and Contini in Winter, from memory.
DRAWN = {"thigh": 0.245, "shank": 0.246, "foot": 0.152, "ankle": 0.039, "knee": 0.285, "hip": 0.530}


def mean_of(measure, sex):
    return float(SIZES[measure, sex]["mean_mm"])


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line['measure']}-{line['sex']}")
def test_each_line_goes_through_the_means_it_was_computed_from(line):
    # ansur2: a least squares line passes through the two means; half a millimetre is the rounding of the table
    at_mean = float(line["intercept_mm"]) + float(line["slope_per_mm"]) * mean_of("stature", line["sex"])
    assert at_mean == pytest.approx(mean_of(line["measure"], line["sex"]), abs=0.5)


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line['measure']}-{line['sex']}")
def test_what_a_line_leaves_over_is_what_its_share_of_the_spread_says(line):
    # ansur2: residual spread = deviation x sqrt(1 - R2); R2 = (slope x deviation of stature / deviation)^2
    deviation = float(SIZES[line["measure"], line["sex"]]["sd_mm"])
    of_stature = float(SIZES["stature", line["sex"]]["sd_mm"])
    assert float(line["see_mm"]) == pytest.approx(deviation * math.sqrt(1 - float(line["r2"])), abs=0.3)
    assert float(line["r2"]) == pytest.approx((float(line["slope_per_mm"]) * of_stature / deviation) ** 2, abs=0.005)


@pytest.mark.parametrize("sex", SEXES)
def test_a_leg_from_stature_alone_may_be_about_six_centimetres_off_either_way(sex):
    # ansur2: 1.96 times the residual spread, for nineteen bodies of twenty
    assert 1.96 * float(LEGS[sex]["see_mm"]) == pytest.approx(60, abs=4)


@pytest.mark.parametrize(("segment", "ratio"), DRAWN.items())
def test_the_ratios_of_the_drawn_body(segment, ratio):
    # drillis1966, from memory
    assert RATIOS[segment] == ratio


def test_the_drawn_leg_stands_together_from_its_parts():
    # drillis1966, from memory: hip height = thigh + shank + ankle, knee height = shank + ankle
    assert RATIOS["thigh"] + RATIOS["shank"] + RATIOS["ankle"] == pytest.approx(RATIOS["hip"])
    assert RATIOS["shank"] + RATIOS["ankle"] == pytest.approx(RATIOS["knee"])


def test_the_drawn_trunk_and_head_stand_together_too():
    # drillis1966, from memory: shoulder height = hip height + trunk; the head and neck reach to the crown
    assert RATIOS["hip"] + RATIOS["trunk_shoulder_to_hip"] == pytest.approx(RATIOS["shoulder"])
    assert RATIOS["shoulder"] + RATIOS["head_neck"] == pytest.approx(1)


def test_every_ratio_says_that_it_is_from_memory_and_every_measured_mean_that_it_was_read():
    assert {row["how_checked"] for row in table("segment_ratios") if row["source_ids"] == "drillis1966"} == {"memory"}
    assert {row["how_checked"] for row in SIZES.values()} == {"read"}
