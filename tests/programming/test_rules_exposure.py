"""V5 and rule 12: seconds of a demand in a lesson. Ceilings are studio defaults, a row each of `exposure_ceilings`."""

import pytest

from clients.rules.outcomes import Level
from programming.rules import validation
from programming.rules.exposure import ceilings_from, exposure
from tests.programming.reference import REPERTOIRE, line, lines
from tests.reference import table

CEILINGS = ceilings_from(table("exposure_ceilings"))
BY_DEMAND = {one.demand: one for one in CEILINGS}


def seconds_of(program, demand, level=Level.ADAPT):
    return {one.demand: one.seconds for one in exposure(program, {demand: level}, CEILINGS)}


def test_seconds_are_repetitions_times_sides_times_tempo_without_pace_setup_or_coaching():
    # Long stretch: three to five repetitions of its tempo; four are planned here.
    row = line("R-LS1", reps=4)
    assert seconds_of([row], "wrist_wb") == {"wrist_wb": 4 * row.row.side_factor * row.row.tempo_seconds_per_rep}


def test_a_demand_the_easier_form_takes_out_is_not_counted():
    assert "long_lever" in line("R-SB2").demands
    assert seconds_of([line("R-SB2", adapted=True)], "long_lever") == {"long_lever": 0}


def test_only_listed_demands_are_summed_and_without_a_client_all_that_have_a_ceiling():
    program = lines("R-LS1", "R-KN1")
    assert exposure(program, {}, CEILINGS) == ()
    assert [one.demand for one in exposure(program, None, CEILINGS)] == [
        row["demand"] for row in table("exposure_ceilings")
    ]


def test_an_avoided_demand_is_not_weighed_here():
    assert exposure(lines("R-LS1"), {"wrist_wb": Level.AVOID}, CEILINGS) == ()


def test_lying_flat_counts_for_adapt_only_and_in_its_longest_unbroken_run():
    assert BY_DEMAND["supine_flat"].is_run
    assert seconds_of(lines("R-FW1"), "supine_flat", Level.WATCH) == {}
    # Two rows of footwork (27 s each), a seated row between, one more of 27 s.
    broken = lines("R-FW1", "R-FW2", "R-SB1", "R-FW3")
    assert seconds_of(broken, "supine_flat") == {"supine_flat": 54}


@pytest.mark.parametrize("ceiling", CEILINGS, ids=lambda one: one.demand)
def test_exactly_the_ceiling_passes_and_one_repetition_more_warns(ceiling):
    # Any row whose repetitions come out even with this ceiling.
    base = next(
        one
        for one in lines(*REPERTOIRE)
        if ceiling.demand in one.demands
        and ceiling.seconds % (one.row.side_factor * one.row.tempo_seconds_per_rep) == 0
    )
    least = int(ceiling.seconds / (base.row.side_factor * base.row.tempo_seconds_per_rep))
    limits = {ceiling.demand: Level.ADAPT}
    assert validation.exposure_within([line(base.row.id, reps=least)], limits, CEILINGS) == []
    (found,) = validation.exposure_within([line(base.row.id, reps=least + 1)], limits, CEILINGS)
    assert (found.rule, found.severity) == ("V5", validation.Severity.WARN)
    assert f"{ceiling.seconds:.0f} are the most" in found.says
