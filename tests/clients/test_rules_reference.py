"""The clinical tables: the shipped ones are clean, and each thing that can be wrong is found with its line."""

import pytest

from clients.rules import CLINICAL_TABLES, Rulebook, digest, faults
from clients.rules.reference import Fault, Strength
from tests.reference import tables


def test_the_shipped_tables_have_no_fault():
    assert faults(tables()) == []


def test_the_rule_book_holds_every_row_of_every_table():
    book, shipped = Rulebook.from_tables(tables()), tables()
    assert len(book.conditions) == len(shipped["conditions"]) == 63
    assert len(book.demands) == len(shipped["demands"]) == 34
    assert len(book.limits) == len(shipped["limits"])
    assert len(book.questions) == 18
    assert len(book.norms) == len(shipped["measure_norms"])
    assert book.conditions["C03"].has_last_day
    assert not book.conditions["C20"].has_last_day
    assert book.strength_of(["studio_default"]) is Strength.COMMON_PRACTICE
    assert book.strength_of(["studio_default", "riebe2015"]) is Strength.GUIDELINE


@pytest.mark.parametrize(
    ("table", "row", "change", "word"),
    [
        ("conditions", 2, {"clearance": "maybe"}, "clearance 'maybe'"),
        ("conditions", 2, {"clearance_when": "", "clearance": "once"}, "without clearance_when"),
        ("conditions", 2, {"window_days_from": "90"}, "runs backwards"),
        ("conditions", 2, {"window_days_to": "80"}, "gap or an overlap"),
        ("conditions", 2, {"window_days_to": "82.5"}, "not a whole number"),
        ("conditions", 2, {"next_condition_id": "C99"}, "unknown next_condition_id"),
        ("conditions", 2, {"next_condition_id": "C03"}, "circle"),
        ("conditions", 2, {"sided": ""}, "sided ''"),
        ("conditions", 2, {"source_ids": "nobody2020"}, "unknown source"),
        ("conditions", 2, {"source_ids": ""}, "no source_ids"),
        ("conditions", 2, {"name": "stray "}, "stray space in name"),
        ("limits", 2, {"condition_id": "C99"}, "unknown condition"),
        ("limits", 0, {"demand": "flying"}, "unknown demand"),
        ("limits", 0, {"level": "forbid"}, "level 'forbid'"),
        ("limits", 2, {"how": ""}, "adapt without how"),
        ("limits", 1, {"demand": "flex_loaded"}, "duplicate C01 flex_loaded"),
        ("bp_gates", 0, {"sbp_op": "le"}, "sbp_op 'le'"),
        ("bp_gates", 0, {"sbp_op": ""}, "must come together"),
        ("bp_gates", 0, {"dbp": "111"}, "never allowed"),
        ("bp_gates", 1, {"dbp": "115"}, "never allowed"),
        ("bp_gates", 3, {"extra_condition": "on a Monday"}, "on a Monday"),
        ("red_flags", 0, {"route": "wait"}, "route 'wait'"),
        ("pregnancy_gates", 0, {"outcome": "stop"}, "does not fit the level"),
        ("review_intervals", 0, {"visits": "", "days": ""}, "neither by visits nor by days"),
        ("measures", 2, {"min": "50"}, "min is not below max"),
        ("measure_norms", 0, {"measure": "luck"}, "unknown measure"),
        ("measure_norms", 0, {"age_from": "70"}, "age_from is above"),
    ],
)
def test_a_broken_row_is_found_with_its_line_in_the_file(table, row, change, word):
    broken = tables()
    broken[table][row].update(change)
    found = faults(broken)
    assert (table, row + 2) in {(fault.table, fault.line) for fault in found if word in fault.reason}


def test_a_condition_without_any_limit_is_found():
    broken = tables()
    broken["limits"] = [row for row in broken["limits"] if row["condition_id"] != "C61"]
    assert [fault.reason for fault in faults(broken)] == ["condition C61 has no limit"]


@pytest.mark.parametrize(("table", "word"), [("acsm_leaves", "16 leaves"), ("symptoms", "nine symptoms")])
def test_a_table_with_a_row_too_few_is_found(table, word):
    broken = tables()
    broken[table].pop()
    assert [word in fault.reason for fault in faults(broken)] == [True]


@pytest.mark.parametrize("table", CLINICAL_TABLES)
def test_an_empty_or_missing_table_is_found(table):
    broken: dict[str, list[dict[str, str]]] = tables()
    broken[table] = []
    missing = tables()
    del missing[table]
    assert faults(broken) == faults(missing) == [Fault(table, 0, "the table is missing or empty")]


def test_the_digest_changes_with_any_cell_and_only_with_clinical_ones():
    shipped, turned, other, changed = tables(), tables(), tables(), tables()
    turned["limits"] = [dict(reversed(row.items())) for row in turned["limits"]]
    other["repertoire"] = []
    changed["limits"][0]["how"] += "."
    assert digest(turned) == digest(other) == digest(shipped)
    assert digest(changed) != digest(shipped)
    assert len(digest(shipped)) == 64
