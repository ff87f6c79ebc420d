"""Times of lines and programs. Values of the time model are studio defaults; the worked total is the studio's own."""

import pytest

from programming.rules.lines import reps_words
from programming.rules.timing import (
    Fit,
    Pace,
    SetUpChanges,
    Slot,
    box_fetches,
    changes,
    line_seconds,
    planned_seconds,
    program_seconds,
)
from tests.programming.reference import FOUNDATION, REPERTOIRE, TIMES, line, lines


def test_the_foundation_program_takes_48_2_minutes_at_learning_pace_with_two_new_rows():
    seconds = program_seconds(lines(*FOUNDATION), TIMES, pace=Pace.LEARNING, new=2)
    assert round(seconds / 60, 1) == 48.2


def test_planned_seconds_are_setup_plus_mid_repetitions_times_side_factor_times_tempo():
    # Mermaid: 20 s set-up, 3 to 4 repetitions each side of 10 s.
    assert planned_seconds(REPERTOIRE["R-MER"]) == 20 + 3.5 * 2 * 10
    assert planned_seconds(REPERTOIRE["R-MER"], reps=3) == 20 + 3 * 2 * 10


def test_pace_stretches_the_movement_and_coaching_comes_once():
    # Footwork on toes: 60 s set-up, 9 repetitions of 3 s; working pace 1.15 and 25 s of coaching.
    assert line_seconds(line("R-FW1"), TIMES, pace=Pace.WORKING) == pytest.approx(60 + 27 * 1.15 + 25)


def test_an_exercise_new_to_the_client_takes_ninety_seconds_more():
    known = line_seconds(line("R-FW1"), TIMES, pace=Pace.WORKING)
    assert line_seconds(line("R-FW1"), TIMES, pace=Pace.WORKING, new=True) == known + 90


@pytest.mark.parametrize(
    ("seconds", "fit"),
    [(3300, Fit.FITS), (3301, Fit.WARN), (3630, Fit.WARN), (3631, Fit.BLOCK)],
)
def test_over_the_slot_warns_and_over_110_percent_blocks(seconds, fit):
    assert Slot(3300).check(seconds, TIMES) is fit


def test_each_piece_of_equipment_that_differs_is_a_change_and_so_are_springs_and_position():
    # From footwork (4 springs, supine, nothing held) to pulling straps: bar down, headrest down, long box, handles.
    assert changes(lines("R-FW1", "R-LB2")) == SetUpChanges(springs=1, equipment=4, position=1)


def test_parts_of_footwork_change_nothing_between_them():
    assert changes(lines("R-FW1", "R-FW2", "R-FW3")).total == 0


def test_a_change_of_apparatus_is_one_change_in_all():
    assert changes(lines("R-FW1", "T-01")) == SetUpChanges(apparatus=1)


def test_the_box_is_fetched_once_for_neighbouring_box_rows_and_again_after_a_row_without():
    assert box_fetches(lines("R-LB2", "R-LB3", "R-SB1", "R-SB2")) == 1
    assert box_fetches(lines("R-LB2", "R-FW1", "R-SB1")) == 2


def test_a_card_says_the_range_or_the_number_and_what_it_counts():
    assert reps_words(REPERTOIRE["R-FW1"], None) == "8–10"
    assert reps_words(REPERTOIRE["R-MER"], 3) == "3 each side"
    assert reps_words(REPERTOIRE["R-SB3"], None) == "3 each side"
