"""What two versions of the tables differ in, and tables that go out as files and come back."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.queries import whys
from clients.rules import ActiveCondition, Rulebook, ScreeningFacts, screen, versions
from clients.rules.reference import CLINICAL_TABLES, faults
from clients.rules.versions import ChangeKind
from tests import reference

ON = date(2031, 3, 12)
TABLES = {name: reference.tables()[name] for name in CLINICAL_TABLES}


@pytest.mark.parametrize("name", CLINICAL_TABLES)
def test_each_table_goes_out_as_a_file_and_comes_back_the_same(name):
    content = versions.as_file(name, TABLES[name]).encode()
    assert versions.table_from(name, content) == (TABLES[name], [])
    assert list(TABLES[name][0]) == list(versions.columns_of(name))


def test_a_version_differs_in_nothing_from_itself():
    assert versions.differences(TABLES, TABLES) == ()


def test_a_row_added_removed_changed_and_moved_is_each_said():
    after = {name: [dict(row) for row in rows] for name, rows in TABLES.items()}
    after["stop_signs"][0]["action"] = "stop"
    after["red_flags"].append(after["red_flags"][0] | {"id": "F99"})
    gone = after["limits"].pop(3)
    after["symptoms"].reverse()
    found = {(one.table, one.kind, one.key) for one in versions.differences(TABLES, after)}
    assert found == {
        ("stop_signs", ChangeKind.CHANGED, "X01"),
        ("red_flags", ChangeKind.ADDED, "F99"),
        ("limits", ChangeKind.REMOVED, f"{gone['condition_id']}~{gone['demand']}"),
        ("symptoms", ChangeKind.MOVED, ""),
    }
    (removed,) = (one for one in versions.differences(TABLES, after) if one.table == "limits")
    assert "Osteoporosis" in removed.name


@given(st.data())
def test_every_changed_cell_is_told_with_both_words_and_nothing_else_is(data):
    table = data.draw(st.sampled_from(CLINICAL_TABLES))
    row = data.draw(st.sampled_from(TABLES[table]))
    free = [column for column in versions.columns_of(table) if column not in versions.KEYS[table]]
    column, words = data.draw(st.sampled_from(free)), data.draw(st.text("abc ", min_size=1, max_size=9))
    key = versions.key_of(table, row)
    after = versions.with_row(TABLES, table, key, {column: words})
    told = [
        (one.table, one.key, [(cell.column, cell.before, cell.after) for cell in one.cells])
        for one in versions.differences(TABLES, after)
    ]
    expected = [(table, key, [(column, row[column], words)])] if words != row[column] else []
    assert told == expected


def test_the_key_of_a_row_is_never_edited():
    after = versions.with_row(TABLES, "limits", "C01~rotation", {"condition_id": "C02", "level": "avoid"})
    (change,) = versions.differences(TABLES, after)
    assert (change.key, [cell.column for cell in change.cells]) == ("C01~rotation", ["level"])
    assert not faults(after)


def test_a_row_that_is_not_there_is_none():
    assert versions.row_at(TABLES, "limits", "C01~flying") is None
    assert versions.row_at(TABLES, "holidays", "C01") is None


def without(tables, table, key):
    """The tables without one row."""
    rows = [row for row in tables[table] if versions.key_of(table, row) != key]
    assert len(rows) + 1 == len(tables[table])
    return {**tables, table: rows}


def test_two_screenings_are_compared_by_outcome_and_by_limit():
    told = ScreeningFacts(written_on=ON, conditions=(ActiveCondition("C01", needs_clearance=False),))
    before = Rulebook.from_tables(TABLES)
    after = Rulebook.from_tables(without(TABLES, "limits", "C01~rotation"))
    seen = [screen(told, book, on=ON) for book in (before, after)]
    found = versions.compared(*seen, before.demands)
    assert found.before == found.after and not found.is_same
    assert [(one.demand, one.before, one.after) for one in found.limits] == [("rotation", "adapt", "")]
    assert versions.compared(seen[0], seen[0], before.demands).is_same


def test_paths_that_differ_only_in_the_demand_are_told_once_with_all_demands():
    book = Rulebook.from_tables(TABLES)
    told = ScreeningFacts(written_on=ON, conditions=(ActiveCondition("C01", needs_clearance=False),))
    lines = whys.limit_lines(screen(told, book, on=ON).limits, book, rests_on={})
    chains = [chain for line in lines for chain in line.chains]
    grouped = whys.grouped(chains)
    assert len(grouped) < len(chains)
    names = {name for chain in grouped for name in chain.demand.split("; ")}
    assert names == {chain.demand for chain in chains}
