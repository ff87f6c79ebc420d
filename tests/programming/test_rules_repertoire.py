"""The reference tables become typed rows, and a broken table is refused with its line and reason."""

import pytest

from programming.rules.repertoire import Change, ChangeKind, SpringEffect, StepKind, changes, faults, from_tables
from studio.rules import ApparatusKind
from tests.programming.reference import REPERTOIRE
from tests.reference import tables


def test_the_reference_has_no_fault():
    assert faults(tables()) == []


def test_the_reference_holds_127_rows_and_266_steps_of_14_ladders():
    loaded = from_tables(tables())
    assert len(loaded.exercises) == 127
    assert len(loaded.ladders) == 14
    assert sum(len(ladder.steps) for ladder in loaded.ladders.values()) == 266


def test_a_row_is_typed():
    row = REPERTOIRE["M-03"]
    assert row.apparatus is ApparatusKind.MAT
    assert row.prerequisites == (("M-02",), ("M-05",), ("R-SSP", "M-22"))
    assert row.removable == {"hip_abd_wide", "hamstring_end"}
    assert (row.springs_usual, row.side_factor, row.mid_reps) == (None, 2, 4.0)
    assert REPERTOIRE["R-FW1"].setup == {"footbar": "up", "headrest": "up", "box": "none", "attach": "none"}
    assert REPERTOIRE["T-13"].setup == {"handles": "handles", "anchor": "shoulder_height", "class": "light"}
    assert REPERTOIRE["R-FW1"].spring_effect is SpringEffect.RESIST


def test_the_usual_regression_takes_out_what_is_removable_and_brings_in_what_it_adds():
    row = REPERTOIRE["R-SB1"]
    assert row.demands == {"flex_loaded", "long_lever"}
    assert row.regressed_demands == {"flex_loaded", "grip"}


def test_a_ladder_knows_its_gate_and_its_steps_in_order():
    ladder = from_tables(tables()).ladders["short_spine"]
    assert ladder.repeat_while == "until the roll down has no gap in it"
    frog = next(step for step in ladder.steps if step.code == "SS-R1")
    assert (frog.kind, frog.substitutes) == (StepKind.REGRESSION, "R-FRO")


# Each spoils one cell of one table: table, key column, key, column, new value, what the fault must say.
SPOILED = [
    ("repertoire", "id", "R-FW1", "level", "6", "level is out of range: 6"),
    ("repertoire", "id", "R-FW1", "apparatus", "trapeze", "apparatus is unknown: 'trapeze'"),
    ("repertoire", "id", "R-FW1", "demands", "supine_flat;gravity", "unknown demand 'gravity' in demands"),
    ("repertoire", "id", "R-FW1", "demands_removable", "kneel", "removable 'kneel' is not a demand of the row"),
    ("repertoire", "id", "R-FW1", "demands", "kneel;kneel", "a demand is listed twice"),
    ("repertoire", "id", "R-FW1", "reps_low", "11", "repetitions low > high"),
    ("repertoire", "id", "R-FW1", "side_factor", "2", "side_factor does not fit reps_basis"),
    ("repertoire", "id", "R-FW1", "springs_min", "5", "springs not min <= usual <= max"),
    ("repertoire", "id", "R-FW1", "springs_max", "", "springs are given in part"),
    ("repertoire", "id", "R-FW1", "tempo_seconds_per_rep", "0", "tempo_seconds_per_rep is out of range: 0"),
    ("repertoire", "id", "R-FW1", "tempo_seconds_per_rep", "nan", "tempo_seconds_per_rep is not a number: 'nan'"),
    ("repertoire", "id", "R-FW1", "exercise", "", "exercise is empty"),
    ("repertoire", "id", "R-FW1", "exercise", " Footwork", "stray space in exercise"),
    ("repertoire", "id", "R-FW2", "id", "R-FW1", "R-FW1 is already on line 2"),
    ("repertoire", "id", "R-FW1", "stretch_joint", "hip", "stretch_end and stretch_joint must come together"),
    ("repertoire", "id", "R-OVH", "demands", "inversion;neck_weight", "a lying row with inversion lacks hips_high"),
    ("repertoire", "id", "R-FW1", "prerequisite_ids", "R-XX", "unknown prerequisite 'R-XX'"),
    ("repertoire", "id", "R-FW1", "prerequisite_ids", "R-HUN", "prerequisite circle: R-"),
    ("repertoire", "id", "R-LS4", "rep_pool_min", "", "the repetition pool is given in part"),
    ("ladders", "code", "FW-R1", "kind", "easier", "kind is unknown: 'easier'"),
    ("ladders", "code", "FW-R1", "repertoire_ids", "R-FW9", "unknown row 'R-FW9' in repertoire_ids"),
    ("ladders", "code", "FW-R1", "removes", "kneel", "removes kneel which none of its rows has"),
    ("ladders", "code", "SS-R2", "removes", "inversion", "removes inversion but R-SSP marks it intrinsic"),
    ("ladders", "code", "FW-R2", "code", "FW-R1", "FW-R1 is already on line"),
    ("ladder_gates", "ladder", "footwork", "ladder", "handstand", "unknown ladder 'handstand' in ladder"),
    ("ladder_gates", "ladder", "footwork", "ladder", "handstand", "ladder 'footwork' has no gate"),
    ("pool_rules", "recipient_id", "R-SM4", "donor_total", "9", "donor_total is not total - recipient"),
    ("pool_rules", "recipient_id", "R-SM4", "donor_counts", "9", "donor_counts do not add up"),
    ("pool_rules", "recipient_id", "R-SM4", "valid", "n", "the valid flag does not fit the counts"),
    ("pool_rules", "recipient_id", "R-SM4", "donor_ids", "R-SM2", "R-SM2 does not belong to pool SM3"),
    ("pool_rules", "recipient_id", "R-SM4", "source_ids", "hearsay", "unknown source 'hearsay' in source_ids"),
    ("springs_default", "stiffness_class", "light", "min_k", "120", "stiffness not min <= usual <= max"),
    ("springs_default", "stiffness_class", "light", "force_at_0_40_m_n", "46", "force_at_0_40_m_n does not follow"),
    ("spring_translation", "reference_count", "4", "target_units", "7", "the target is not twice the reference count"),
    ("spring_translation", "reference_count", "4", "exact_sets", "MMM", "the sets do not follow from the stock"),
    ("spring_translation", "reference_count", "4", "possible", "n", "the possible flag is wrong"),
    ("spring_translation", "reference_count", "4", "preferred_set", "HH", "the preferred set is not possible"),
    ("spring_translation", "reference_count", "4", "max_units", "9", "max_units does not follow from the stock"),
    ("session_time", "key", "arrival", "key", "greeting", "no value for arrival"),
    ("session_time", "key", "arrival", "value", "soon", "value is not a number: 'soon'"),
    ("exposure_ceilings", "demand", "kneel", "demand", "sleep", "unknown demand 'sleep' in demand"),
    ("exposure_ceilings", "demand", "kneel", "ceiling_seconds", "0", "ceiling_seconds is out of range: 0"),
    ("supervision", "figures", "2;3", "passes", "y", "the passes flag is wrong"),
    ("supervision", "figures", "2;3", "total", "6", "the total is not the sum of the figures"),
    ("supervision", "figures", "2;3", "people", "3", "people and limit do not fit the figures"),
    ("segment_ratios", "segment", "eye", "ratio_to_stature", "-1", "ratio_to_stature is out of range: -1"),
    ("segment_ratios", "segment", "stature", "p5_mm", "1900", "percentiles do not rise"),
    ("leg_length_regression", "measure", "crotch_height", "r2", "1.2", "r2 is out of range: 1.2"),
    ("leg_length_regression", "measure", "crotch_height", "source_ids", "", "no source given"),
]


@pytest.mark.parametrize(("table", "key", "value", "column", "spoiled", "reason"), SPOILED)
def test_a_spoiled_cell_is_refused_with_table_line_and_reason(table, key, value, column, spoiled, reason):
    data = tables()
    place, row = next((n, row) for n, row in enumerate(data[table]) if row[key] == value)
    row[column] = spoiled
    found = faults(data)
    assert [fault for fault in found if fault.table == table and fault.reason.startswith(reason)], found
    if "no " not in reason and "circle" not in reason:
        assert any(fault.line == place + 2 for fault in found)


def test_a_missing_table_and_a_missing_column_are_faults_not_crashes():
    data = tables()
    del data["ladders"]
    for row in data["supervision"]:
        del row["passes"]
    reasons = {(fault.table, fault.line, fault.reason) for fault in faults(data)}
    assert ("ladders", 1, "the table is missing or has no rows") in reasons
    assert ("supervision", 1, "column missing: passes") in reasons


def test_a_reload_shows_what_it_adds_changes_and_removes():
    current = [{"id": "A", "level": "1"}, {"id": "B", "level": "2"}]
    incoming = [{"id": "A", "level": "2"}, {"id": "C", "level": "1"}]
    assert changes(current, incoming) == [
        Change(ChangeKind.CHANGED, "A", "level", "1", "2"),
        Change(ChangeKind.ADDED, "C", "", "", ""),
        Change(ChangeKind.REMOVED, "B", "", "", ""),
    ]


def test_rows_the_studio_edited_are_kept_on_a_reload():
    current = [{"id": "A", "level": "3"}, {"id": "OWN", "level": "2"}]
    incoming = [{"id": "A", "level": "2"}]
    assert changes(current, incoming, edited={"A", "OWN"}) == [
        Change(ChangeKind.KEPT_OWN, "A", "level", "3", "2"),
        Change(ChangeKind.KEPT_OWN, "OWN", "", "", ""),
    ]


def test_a_reload_of_the_same_tables_changes_nothing():
    rows = tables()["repertoire"]
    assert changes(rows, tables()["repertoire"]) == []
