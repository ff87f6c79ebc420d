"""Each rule of a template once met and once broken. Common practice, no source; times are studio defaults."""

import pytest

from programming.rules.springs import SpringSet
from programming.rules.timing import Slot
from programming.rules.validation import (
    Severity,
    blocks,
    exercises_whole,
    finish,
    fits_the_time,
    machine_state_safe,
    no_avoided_demand,
    opposition,
    pools_hold,
    ramp,
    report,
    sides_equal,
    springs_possible,
)
from tests.programming.reference import FOUNDATION, REPERTOIRE, TIMES, line, lines


def says(findings):
    return [finding.says for finding in findings]


def test_the_foundation_program_blocks_on_nothing():
    found = report(lines(*FOUNDATION), REPERTOIRE, TIMES, slot=Slot(3300), inventory=SpringSet.of("HHMML"))
    assert not blocks(found)
    # Seven of its nineteen rows round and only the pulling straps extend; V9 asks for one in four.
    assert says(found) == ["rows of flexion: 7, of extension: 1; one is asked for every four"]


def test_v2_a_lesson_inside_its_slot_passes():
    assert fits_the_time(lines(*FOUNDATION), TIMES, slot=Slot(3300)) == []


def test_v2_over_the_slot_warns_and_over_110_percent_blocks():
    program = lines("R-FW1")
    # Arrival 180, close 120, set-up 60, 27 s x 1.15, coaching 25: 416.05 seconds.
    assert fits_the_time(program, TIMES, slot=Slot(416))[0].severity is Severity.WARN
    assert fits_the_time(program, TIMES, slot=Slot(370))[0].severity is Severity.BLOCK


def test_v2_a_five_minute_slot_blocks_whatever_is_planned():
    # Arrival and close alone take the five minutes.
    (found,) = fits_the_time(lines("R-FW1"), TIMES, slot=Slot(300))
    assert found.severity is Severity.BLOCK
    assert found.says.endswith("minutes for a slot of 5")


def test_v3_a_machine_without_springs_blocks_every_row_that_hangs_on_them():
    found = report(lines("R-FW1", "M-01"), REPERTOIRE, TIMES, slot=Slot(3300), inventory=SpringSet())
    assert [(one.line, one.says) for one in found if one.rule == "V3"] == [("0", "this machine has no springs")]


def test_v3_a_machine_with_fitting_springs_passes():
    assert springs_possible(lines("R-SM1", "R-SM2", "R-SM3", "R-SM4"), SpringSet.of("HHMML")) == []


def test_v3_a_machine_too_weak_blocks():
    found = springs_possible(lines("R-RUN"), SpringSet.of("MMM"))
    assert [finding.severity for finding in found] == [Severity.BLOCK]


def test_v3_a_step_down_without_a_way_by_unhooking_warns():
    # On two heavy springs only H is near 2 and near 1, so nothing can be unhooked between the parts.
    step = [line("R-SM3"), line("R-SM4", springs=1)]
    assert [finding.severity for finding in springs_possible(step, SpringSet.of("HH"))] == [Severity.WARN]


def test_v4_nothing_avoided_passes_and_the_easier_form_counts():
    assert no_avoided_demand([line("R-SB2", adapted=True)], {"long_lever"}) == []


def test_v4_an_avoided_demand_blocks():
    found = no_avoided_demand(lines("R-LS1"), {"wrist_wb"})
    assert [(finding.rule, finding.severity) for finding in found] == [("V4", Severity.BLOCK)]


def test_v6_a_program_that_begins_low_passes():
    assert ramp(lines(*FOUNDATION), TIMES) == []


def test_v6_a_high_level_or_an_intrinsic_inversion_in_the_first_six_minutes_warns():
    found = ramp(lines("R-FW1", "R-SSP"), TIMES)
    assert says(found) == ["level 3 before the body is warm", "head below the heart before the body is warm"]


def test_v6_after_six_minutes_of_movement_a_high_level_passes():
    warm = lines("R-FW1", "R-FW2", "R-FW3", "R-FW4", "R-HUN", "R-FRO")
    assert ramp([*warm, line("R-SSP")], TIMES) == []


def test_v6_a_quiet_ending_passes_and_a_strong_one_warns():
    assert finish(lines("R-SSP", "R-RUN")) == []
    assert says(finish(lines("R-RUN", "R-LS4"))) == [
        "ends on a strong stretch of the back of the legs",
        "ends on the head below the heart",
    ]


def test_v6_standing_straight_after_an_inversion_warns():
    assert len(finish(lines("R-SSP", "R-SID", "R-RUN"))) == 1


def test_v7_the_reference_set_ups_are_safe():
    assert machine_state_safe([line(name) for name in REPERTOIRE]) == []


@pytest.mark.parametrize(
    ("exercise", "setup", "words"),
    [
        ("R-SSP", {"headrest": "up"}, "headrest must be flat: weight on the neck"),
        ("T-07", {"safety_strap": "off"}, "safety strap must be on the sprung bar"),
        ("R-SB1", {"box": "none"}, "springs on and the box seated before short box"),
    ],
)
def test_v7_an_unsafe_machine_blocks(exercise, setup, words):
    found = machine_state_safe([line(exercise, setup=setup)])
    assert [(finding.severity, finding.says) for finding in found] == [(Severity.BLOCK, words)]


def test_v7_short_box_without_springs_blocks():
    assert len(machine_state_safe([line("R-SB1", springs=0)])) == 1


def test_v8_parts_in_order_on_falling_springs_pass():
    assert exercises_whole(lines("R-SM1", "R-SM2", "R-SM3", "R-SM4")) == []


def test_v8_parts_out_of_order_block():
    found = exercises_whole(lines("R-FW2", "R-FW1"))
    assert [(finding.rule, finding.severity) for finding in found] == [("V8", Severity.BLOCK)]


def test_v8_springs_that_rise_inside_a_step_down_block():
    found = exercises_whole([line("R-SM1", springs=3), line("R-SM2", springs=4)])
    assert says(found) == ["springs rise from 3 to 4 inside the exercise"]


def test_v8_a_pool_that_adds_up_passes():
    assert pools_hold([line("R-SM3", reps=4), line("R-SM4", reps=3)], REPERTOIRE) == []
    assert pools_hold(lines("R-SM3", "R-SM4"), REPERTOIRE) == []


def test_v8_a_pool_that_does_not_add_up_warns():
    found = pools_hold([line("R-SM3", reps=5), line("R-SM4", reps=3)], REPERTOIRE)
    assert [(finding.rule, finding.severity) for finding in found] == [("V8", Severity.WARN)]


def test_v9_one_extension_for_four_flexion_rows_passes():
    assert opposition(lines("R-HUN", "R-SM1", "R-LB2", "R-SB1", "T-01")) == []


def test_v9_too_little_extension_and_a_fourth_rounding_row_running_warn():
    found = opposition(lines("R-HUN", "R-SM1", "R-SB1", "T-01"))
    assert says(found) == [
        "rows of flexion: 4, of extension: 0; one is asked for every four",
        "more than three rounding rows running",
    ]


def test_v9_equal_sides_pass_and_one_extra_with_a_reason_passes():
    assert sides_equal(lines("R-MER")) == []
    assert sides_equal([line("R-MER", extra_one_side=1, reason="weaker left side")]) == []


def test_v9_an_extra_without_a_reason_and_more_than_one_extra_warn():
    assert len(sides_equal([line("R-MER", extra_one_side=1)])) == 1
    assert len(sides_equal([line("R-MER", extra_one_side=2, reason="weaker left side")])) == 1
