"""Fitting where little or nothing fits: what is left out says why, and an answer that is not proven says its bound.

Rows, ladders and times are the reference's; bodies and owned exercises are invented.
"""

from dataclasses import replace

import pytest

from clients.rules.outcomes import Level
from programming.rules.fitting import LimitFact, Rule, fit
from programming.rules.lines import PlannedLine
from programming.rules.marks import Decision
from programming.rules.springs import SpringSet
from studio.rules import ApparatusKind
from tests.programming.fitting_cases import DEMANDS, LADDERS
from tests.programming.reference import FOUNDATION, REPERTOIRE, TIMES, planned

OWNED = frozenset(REPERTOIRE)
EVERYWHERE = frozenset(ApparatusKind)


def fitted(ids, avoided=(), **given):
    limits = {demand: LimitFact(Level.AVOID, ("invented",)) for demand in avoided}
    return fit(planned(ids), limits, REPERTOIRE, **({"times": TIMES, "owned": OWNED, "minutes": 240} | given))


def decisions(program):
    return {line.decision for line in program.lines}


def test_with_everything_avoided_nothing_stays_and_it_is_said_what_blocks_most():
    ids = ["R-LS1", "R-LS3", "R-SM3"]
    limits = dict.fromkeys(DEMANDS, LimitFact(Level.AVOID))
    program = fit(planned(ids), limits, {name: REPERTOIRE[name] for name in ids}, times=TIMES, owned=OWNED)
    assert decisions(program) == {Decision.LEFT_OUT}
    # The wrist bears weight in two of the three and cannot be taken out of either.
    counts = dict(program.blocks_most)
    assert counts["wrist_wb"] == 2
    assert [count for _, count in program.blocks_most] == sorted(counts.values(), reverse=True)
    assert program.lost_aims == ("trunk_control", "shoulder_strength", "hamstring_calf_length", "leg_strength")
    assert program.is_proven


def test_a_slot_of_five_minutes_holds_arrival_and_close_and_no_line():
    program = fitted(FOUNDATION, minutes=5)
    assert decisions(program) == {Decision.LEFT_OUT}
    assert program.minutes == 5
    assert {line.notes for line in program.lines} == {("No time for it in this lesson",)}
    assert program.blocks_most == ()


def test_a_reformer_without_springs_swaps_its_lines_to_other_apparatus():
    program = fitted(FOUNDATION, inventory=SpringSet(), at_hand=EVERYWHERE)
    for line in program.lines:
        if line.planned_exercise_id.startswith("R-"):
            assert line.decision in (Decision.SWAPPED, Decision.LEFT_OUT)
            assert line.notes[0] == "This machine has no springs"
        assert line.exercise_id is None or not line.exercise_id.startswith("R-")


def test_a_circle_of_prerequisites_lets_neither_in_and_says_so():
    one = replace(REPERTOIRE["R-FRO"], prerequisites=(("R-LEG",),))
    other = replace(REPERTOIRE["R-LEG"], prerequisites=(("R-FRO",),))
    rows = {"R-FRO": one, "R-LEG": other}
    program = fit(planned(["R-FRO", "R-LEG"]), {}, rows, times=TIMES)
    assert [line.notes[0] for line in program.lines] == [
        "Asks for Leg circles in loops first",
        "Asks for Frog in loops first",
    ]
    owner = fit(planned(["R-FRO", "R-LEG"]), {}, rows, times=TIMES, owned={"R-LEG"})
    assert decisions(owner) == {Decision.AS_PLANNED}


def test_a_prerequisite_counts_when_it_is_done_earlier_and_not_when_it_comes_later():
    assert decisions(fitted(["R-FW1", "R-HUN"], owned=())) == {Decision.AS_PLANNED}
    late = fitted(["R-HUN", "R-FW1"], owned=())
    assert late.lines[0].notes[0] == "Asks for Footwork: toes (heels together, small V) first"
    assert late.lines[1].decision is Decision.AS_PLANNED


def test_a_waived_exercise_needs_no_prerequisites():
    assert fitted(["R-HUN"], owned=()).lines[0].decision is not Decision.AS_PLANNED
    assert fitted(["R-HUN"], owned=(), waived={"R-HUN"}).lines[0].decision is Decision.AS_PLANNED


def test_a_prerequisite_that_is_blocked_locks_nobody_out_and_asks_for_a_waiver():
    # The twist on the short box asks for flat and side; side bending cannot be taken out of the side.
    program = fitted(["R-SB4"], ["sidebend"], owned={"R-SB2"})
    line = program.lines[0]
    assert line.decision is Decision.AS_PLANNED
    assert line.notes == ("A waiver is asked for: Short box: side may not be done here",)


def test_a_level_above_the_ceiling_is_swapped_and_says_so():
    line = fitted(["R-LS1"], ceilings={ApparatusKind.REFORMER: 2}).lines[0]
    assert line.decision is Decision.SWAPPED
    assert REPERTOIRE[line.exercise_id].level <= 2
    assert line.notes[0] == "Level 3, cleared to level 2 on the reformer"


def test_one_step_of_the_ladder_is_taken_before_the_whole_easier_form():
    # Head down takes out what the neck may not do and leaves the long lever in.
    line = fitted(["R-HUN"], ["neck_hold"], ladders=LADDERS).lines[0]
    assert (line.decision, line.steps, line.form) == (Decision.ADAPTED, ("HU-R1",), "head down")
    assert line.demands == REPERTOIRE["R-HUN"].demands - {"flex_loaded", "neck_hold"}
    assert [why.demand for why in line.why if why.rule is Rule.TAKEN_OUT] == ["neck_hold"]


def test_a_ladder_takes_out_nothing_that_the_row_holds_fast():
    held = replace(REPERTOIRE["R-HUN"], removable=frozenset())
    program = fit(
        planned(["R-HUN"]),
        {"neck_hold": LimitFact(Level.AVOID)},
        {"R-HUN": held},
        times=TIMES,
        owned=OWNED,
        ladders=LADDERS,
    )
    assert program.lines[0].decision is Decision.LEFT_OUT


def test_a_row_the_ladder_names_stands_in_before_others_of_the_same_aim():
    # The forefoot cannot be taken out of the toes; the ladder of footwork names the seated double pump in their place.
    line = fitted(["R-FW1"], ["forefoot", "supine_flat"], ladders=LADDERS, at_hand=EVERYWHERE).lines[0]
    assert line.decision is Decision.SWAPPED
    assert (line.exercise_id, line.steps) == ("C-01", ("FW-R3",))


def test_set_ups_of_the_body_change_no_decision():
    line = fitted(["R-FW1"], body=("tall",), ladders=LADDERS).lines[0]
    assert line.decision is Decision.AS_PLANNED
    assert "FW-S1" in line.steps
    assert "carriage stop one or two notches out; bar lower" in line.setup


def test_an_aim_that_no_line_serves_any_more_is_named():
    program = fitted(["R-LS4"], ["hip_flex_90", "wrist_wb", "shoulder_wb"], at_hand={ApparatusKind.BARREL})
    served = {aim for line in program.lines if line.exercise_id for aim in REPERTOIRE[line.exercise_id].purpose}
    assert set(program.lost_aims) == set(REPERTOIRE["R-LS4"].purpose) - served


def test_the_same_arguments_give_the_same_program():
    first, again = (fitted(FOUNDATION, ["supine_flat", "forefoot"], at_hand=EVERYWHERE) for _ in range(2))
    assert first == again


@pytest.mark.parametrize("avoided", [("supine_flat",), ("grip", "neck_hold"), ("wrist_wb", "flex_loaded", "balance")])
@pytest.mark.parametrize("minutes", [40, 120])
def test_what_it_costs_is_never_below_its_bound_and_equal_when_proven(avoided, minutes):
    ids = list(REPERTOIRE)[::3]
    program = fitted(ids, avoided, minutes=minutes, at_hand=EVERYWHERE)
    assert program.bound <= program.cost
    assert program.is_proven == (program.bound == program.cost)
    assert program.minutes <= minutes


def test_an_added_limit_never_lets_in_a_demand_that_is_avoided():
    for avoided in (["kneel"], ["kneel", "grip"], ["kneel", "grip", "long_lever"]):
        program = fitted(FOUNDATION, avoided, at_hand=EVERYWHERE)
        assert all(not line.demands & set(avoided) for line in program.lines)


def test_a_line_planned_twice_may_be_done_twice():
    plan = [PlannedLine("1", "R-PEL"), PlannedLine("2", "R-RUN"), PlannedLine("3", "R-PEL")]
    program = fit(plan, {}, REPERTOIRE, times=TIMES, owned=OWNED)
    assert [line.exercise_id for line in program.lines] == ["R-PEL", "R-RUN", "R-PEL"]
