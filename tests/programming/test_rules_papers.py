"""What may go home, and files that no spreadsheet runs (common practice, no source)."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules.outcomes import Level
from programming.rules.marks import Standing
from programming.rules.papers import POSITIONS, home_row, home_rows, table_file
from programming.rules.repertoire import from_tables
from studio.rules import ApparatusKind
from tests import reference

TABLES = reference.tables()
ROWS = from_tables(TABLES).exercises
DEMANDS = sorted({demand for row in ROWS.values() for demand in row.demands})


def home(key: str, standing: Standing = Standing.OWNED, **levels: Level):
    return home_row(ROWS[key], standing, levels)


def test_a_mat_row_that_is_done_alone_and_owned_goes_home_as_it_is():
    found = home("M-04")
    assert (found.name, found.position, found.form) == ("Single leg circle", "on your back", "")


def test_what_needs_a_teacher_in_sight_an_apparatus_or_more_lessons_stays_here():
    assert ROWS["M-05"].supervision == 2 and home("M-05") is None
    assert home("R-FW1") is None
    assert home("M-04", Standing.INTRODUCED) is None and home("M-04", Standing.PAUSED) is None


def test_the_easier_form_goes_home_when_it_frees_what_is_limited():
    hundred = ROWS["M-01"]
    assert {"flex_loaded", "long_lever"} <= hundred.removable
    assert home("M-01", flex_loaded=Level.AVOID).form == hundred.usual_regression
    assert home("M-01", flex_loaded=Level.ADAPT).form == hundred.usual_regression
    assert home("M-01", flex_loaded=Level.WATCH).form == ""


def test_what_the_easier_form_does_not_free_stays_here():
    row = ROWS["M-06"]
    intrinsic = sorted(row.demands - row.removable)
    assert intrinsic and home("M-06", **{intrinsic[0]: Level.AVOID}) is None


def test_owned_ones_stand_first():
    standings = {"M-01": Standing.WORKING, "M-04": Standing.OWNED, "M-05": Standing.OWNED}
    assert [row.exercise_id for row in home_rows(ROWS.values(), standings, {})] == ["M-04", "M-01"]


def test_every_position_of_a_row_that_may_go_home_has_plain_words():
    alone = [row for row in ROWS.values() if row.apparatus is ApparatusKind.MAT and row.supervision == 1]
    assert alone and {row.start_position for row in alone} <= set(POSITIONS)


@given(st.dictionaries(st.sampled_from(DEMANDS), st.sampled_from(list(Level)), max_size=8))
def test_nothing_goes_home_that_has_to_be_avoided_or_adapted(levels):
    standings = dict.fromkeys(ROWS, Standing.OWNED)
    bound = {demand for demand, level in levels.items() if level in (Level.AVOID, Level.ADAPT)}
    for found in home_rows(ROWS.values(), standings, levels):
        row = ROWS[found.exercise_id]
        done = row.regressed_demands if found.form else row.demands
        assert not done & bound


def test_no_form_that_may_go_home_names_a_condition_or_a_demand():
    """The card may lie about: it tells what to do and never why."""
    health = [row["name"].lower() for row in TABLES["conditions"]] + [row["name"].lower() for row in TABLES["demands"]]
    standings = dict.fromkeys(ROWS, Standing.OWNED)
    for demand in DEMANDS:
        for found in home_rows(ROWS.values(), standings, {demand: Level.AVOID}):
            assert not [word for word in health if word in found.form.lower()], found


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_a_cell_that_begins_like_a_formula_is_kept_as_text(cell):
    read = list(csv.reader(io.StringIO(table_file(["Note"], [[cell]]), newline="")))
    assert read == [["Note"], [f"'{cell}"]]


def test_numbers_stay_numbers_and_nothing_is_an_empty_cell():
    assert table_file(["A", "B", "C"], [[-3, None, 2.5]]) == "A,B,C\r\n-3,,2.5\r\n"


@given(st.lists(st.lists(st.text(), min_size=2, max_size=2), max_size=5))
def test_no_text_cell_of_a_file_begins_like_a_formula(rows):
    for read in csv.reader(io.StringIO(table_file(["A", "B"], rows), newline="")):
        assert not [cell for cell in read if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]
