"""Rules 2 to 5 in sums. Common practice, no source."""

from programming.rules.flow import flow, rounding_runs
from programming.rules.timing import Pace, changes, line_seconds
from tests.programming.reference import FOUNDATION, TIMES, line, lines


def test_the_sums_of_the_foundation_program():
    found = flow(lines(*FOUNDATION), TIMES)
    assert (found.flexion, found.extension) == (7, 1)
    assert found.changes == changes(lines(*FOUNDATION))


def test_springs_that_go_up_between_two_exercises_are_counted_once_each():
    # Footwork on four, frogs on two, running on four again.
    assert flow(lines("R-FW1", "R-FRO", "R-RUN"), TIMES).spring_rises == 1
    assert flow(lines("R-RUN", "R-FRO"), TIMES).spring_rises == 0


def test_another_apparatus_between_is_no_rise_of_the_carriage_springs():
    assert flow(lines("R-RUN", "T-01", "R-FRO"), TIMES).spring_rises == 0


def test_a_rounding_run_ends_at_an_extension_row_and_its_seconds_follow_the_time_model():
    program = lines("R-HUN", "R-SM1", "R-LB2", "R-SB1")
    assert [[one.row.id for one in run] for run in rounding_runs(program)] == [["R-HUN", "R-SM1"], ["R-SB1"]]
    found = flow(program, TIMES, pace=Pace.LEARNING)
    assert found.flexion_run == 2
    assert found.flexion_seconds == sum(
        line_seconds(line(name), TIMES, pace=Pace.LEARNING) for name in ("R-HUN", "R-SM1")
    )
