"""Three shipped programs, each for three bodies, through the fit and then through all ten rules.

The programs and the time model are studio defaults; limits come from the reference tables, bodies are invented.
"""

import json
from pathlib import Path

import pytest

from clients.rules.outcomes import Level
from programming.rules import validation
from programming.rules.fitting import LimitFact, fit
from programming.rules.lines import Line, PlannedLine, resolved
from programming.rules.marks import Decision
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace, Slot, program_seconds
from programming.rules.validation import People
from studio.rules import ApparatusKind
from tests.programming.reference import REPERTOIRE, TIMES, planned
from tests.reference import table

SHIPPED = json.loads((Path(__file__).parents[2] / "fixtures" / "templates.json").read_text(encoding="utf-8"))
PROGRAMS = {one["name"]: one for one in SHIPPED}
THREE = ("First carriage", "Foundation order", "Two places")
# Osteoporosis, a sore wrist, and an irritable disc of the low back, by their ids in the reference.
BODIES = {"nothing": (), "bones": ("C01",), "wrist": ("C38",), "back": ("C05",)}
MACHINE = SpringSet.of("HHMML")
EVERYWHERE = frozenset(ApparatusKind)


def limits_of(conditions):
    """The strictest word of the reference on each demand."""
    rows = [row for row in table("limits") if row["condition_id"] in conditions]
    rows.sort(key=lambda row: list(Level).index(Level(row["level"])), reverse=True)
    return {
        row["demand"]: LimitFact(Level(row["level"]), (row["condition_id"],), row["how"], (row["source_ids"],))
        for row in rows
    }


def fitted(name, body):
    return fit(
        planned(PROGRAMS[name]["lines"]),
        limits_of(BODIES[body]),
        REPERTOIRE,
        times=TIMES,
        owned=set(REPERTOIRE),
        known=set(REPERTOIRE),
        inventory=MACHINE,
        minutes=PROGRAMS[name]["minutes"],
        at_hand=EVERYWHERE,
    )


def as_done(program):
    """The lines that are taught, in the form the fit has chosen for them."""
    taught = [line for line in program.lines if line.exercise_id]
    return [
        Line(PlannedLine(line.planned_id, row.id, line.reps, adapted=line.demands == row.regressed_demands), row)
        for line in taught
        for row in [REPERTOIRE[line.exercise_id]]
    ]


@pytest.mark.parametrize("name", PROGRAMS)
def test_each_shipped_program_passes_every_block_of_a_template_on_a_machine_with_five_springs(name):
    lines = resolved(planned(PROGRAMS[name]["lines"]), REPERTOIRE)
    found = validation.report(lines, REPERTOIRE, TIMES, slot=Slot(60 * PROGRAMS[name]["minutes"]), inventory=MACHINE)
    assert [one for one in found if one.severity is validation.Severity.BLOCK] == []


@pytest.mark.parametrize("name", [name for name, one in PROGRAMS.items() if one["level"] <= 2])
def test_what_a_shipped_program_of_the_first_levels_asks_for_comes_earlier_in_it(name):
    lines = resolved(planned(PROGRAMS[name]["lines"]), REPERTOIRE)
    assert validation.prerequisites_owned(lines, REPERTOIRE, owned=()) == []


@pytest.mark.parametrize("name", THREE)
def test_for_a_body_without_limits_the_program_is_the_template(name):
    program = fitted(name, "nothing")
    assert [line.exercise_id for line in program.lines] == PROGRAMS[name]["lines"]
    assert {line.decision for line in program.lines} == {Decision.AS_PLANNED}


@pytest.mark.parametrize("name", THREE)
@pytest.mark.parametrize("body", ["bones", "wrist", "back"])
def test_a_fitted_program_meets_all_that_blocks(name, body):
    levels = {demand: fact.level for demand, fact in limits_of(BODIES[body]).items()}
    found = validation.personal(
        as_done(fitted(name, body)),
        REPERTOIRE,
        TIMES,
        slot=Slot(60 * PROGRAMS[name]["minutes"]),
        levels=levels,
        owned=set(REPERTOIRE),
        met=set(REPERTOIRE),
        ceilings=validation.ceilings_from(table("exposure_ceilings")),
        inventory=MACHINE,
        people=People(is_screened=True, ceilings=dict.fromkeys(ApparatusKind, PROGRAMS[name]["level"])),
    )
    assert [one for one in found if one.severity is validation.Severity.BLOCK] == []


@pytest.mark.parametrize("name", THREE)
@pytest.mark.parametrize("body", ["bones", "wrist", "back"])
def test_a_line_changes_only_where_its_own_demands_are_limited(name, body):
    limits = limits_of(BODIES[body])
    for line in fitted(name, body).lines:
        limited = REPERTOIRE[line.planned_exercise_id].demands & limits.keys()
        if line.decision is not Decision.AS_PLANNED:
            assert limited, f"{line.planned_exercise_id} was changed without a limit on what it demands"


def test_the_wrist_changes_no_line_of_a_first_carriage_and_swaps_or_leaves_out_what_leans_on_it():
    leaning = [name for name in PROGRAMS["Foundation order"]["lines"] if "wrist_wb" in REPERTOIRE[name].demands]
    assert leaning, "the foundation order leans on the hands somewhere"
    by_planned = {line.planned_exercise_id: line for line in fitted("Foundation order", "wrist").lines}
    for name in leaning:
        assert "wrist_wb" not in by_planned[name].demands
        assert by_planned[name].decision is not Decision.AS_PLANNED
    assert not any("wrist_wb" in REPERTOIRE[name].demands for name in PROGRAMS["First carriage"]["lines"])


@pytest.mark.parametrize("name", PROGRAMS)
@pytest.mark.parametrize("pace", Pace)
def test_the_time_of_each_program_is_the_sum_of_the_tables_own_figures(name, pace):
    # Reckoned here from the raw tables: setup + middle of the range x side factor x tempo x pace + coaching.
    raw = {row["id"]: row for row in table("repertoire")}
    figures = {row["key"]: float(row["value"]) for row in table("session_time")}
    seconds = figures["arrival"] + figures["close"]
    for row in (raw[one] for one in PROGRAMS[name]["lines"]):
        middle = (int(row["reps_low"]) + int(row["reps_high"])) / 2
        moving = middle * int(row["side_factor"]) * float(row["tempo_seconds_per_rep"])
        seconds += float(row["setup_seconds"]) + moving * figures[f"pace_{pace}"] + figures[f"coaching_{pace}"]
    found = program_seconds(resolved(planned(PROGRAMS[name]["lines"]), REPERTOIRE), TIMES, pace=pace)
    assert found == pytest.approx(seconds)


# A recipient of nought is left out altogether: there is no line to write a count on.
WRITTEN_OUT = [row for row in table("pool_rules") if row["recipient_count"] != "0"]


@pytest.mark.parametrize("row", WRITTEN_OUT, ids=lambda row: f"{row['pool']}-{row['recipient_count']}")
def test_a_pool_written_out_by_hand_warns_exactly_where_the_table_says_it_breaks(row):
    counts = zip(row["donor_ids"].split(";"), row["donor_counts"].split(";"), strict=True)
    program = [*counts, (row["recipient_id"], row["recipient_count"])]
    plans = [PlannedLine(name, name, reps=int(count)) for name, count in program]
    found = validation.pools_hold(resolved(plans, REPERTOIRE), REPERTOIRE)
    assert (found == []) == (row["valid"] == "y")
