"""What comes before and after an exercise: both ways agree, and the drawing shows no more and no less than it says."""

from dataclasses import replace
from itertools import pairwise

import pytest

from programming.rules import prerequisites
from programming.rules.prerequisites import BOX_HEIGHT, BOX_WIDTH, around, wrapped
from tests.programming.reference import REPERTOIRE

ROWS = REPERTOIRE


def test_before_keeps_the_conditions_with_those_of_which_one_is_enough():
    """R-SSP asks for R-FRO, R-LEG and R-PEL: programs.md, section 9, example four."""
    assert [[row.id for row in group.rows] for group in around("R-SSP", ROWS).before] == [
        ["R-FRO"],
        ["R-LEG"],
        ["R-PEL"],
    ]
    either = next(row for row in ROWS.values() if any(len(group) > 1 for group in row.prerequisites))
    found = {tuple(row.id for row in group.rows) for group in around(either.id, ROWS).before}
    assert found == set(either.prerequisites)


def test_what_one_leads_to_says_that_it_comes_before():
    for key in ROWS:
        for after in around(key, ROWS).after:
            group = next(group for group in after.row.prerequisites if key in group)
            assert {key, *(other.id for other in after.others)} == set(group)


def test_further_back_holds_everything_learned_before_those_and_only_once():
    for key in ROWS:
        found = around(key, ROWS)
        direct = {row.id for group in found.before for row in group.rows}
        ids = [row.id for row in found.further]
        assert len(ids) == len(set(ids)) and not direct & set(ids) and key not in ids
        for row in (*found.further, *(row for group in found.before for row in group.rows)):
            assert {item for group in row.prerequisites for item in group} <= direct | set(ids)


def test_an_exercise_without_neighbours_has_no_drawing():
    alone = replace(ROWS["R-FW1"], id="X", prerequisites=())
    assert around("X", {"X": alone}).drawing is None


def test_a_row_that_is_not_there_any_more_is_passed_over():
    kept = {key: row for key, row in ROWS.items() if key != "R-LEG"}
    assert [[row.id for row in group.rows] for group in around("R-SSP", kept).before] == [["R-FRO"], ["R-PEL"]]


@pytest.mark.parametrize("key", list(ROWS))
def test_the_drawing_holds_both_sides_and_no_two_boxes_lie_on_each_other(key):
    found = around(key, ROWS)
    if found.drawing is None:
        assert not found.before and not found.after
        return
    drawn = {node.id for node in found.drawing.nodes}
    assert drawn >= {
        key,
        *(row.id for group in found.before for row in group.rows),
        *(one.row.id for one in found.after),
    }
    places = sorted((node.x, node.y) for node in found.drawing.nodes)
    for (x, y), (other_x, other_y) in pairwise(places):
        assert other_x >= x + BOX_WIDTH or (other_x == x and other_y >= y + BOX_HEIGHT)
    assert all(_starts(edge.path) < _ends(edge.path) for edge in found.drawing.edges)
    assert all(0 <= x <= found.drawing.width - BOX_WIDTH for x, _ in places)
    assert all(0 <= y <= found.drawing.height - BOX_HEIGHT for _, y in places)


def test_a_broken_line_is_drawn_where_one_of_several_is_enough():
    either = next(row for row in ROWS.values() if any(len(group) > 1 for group in row.prerequisites))
    drawing = around(either.id, ROWS).drawing
    assert drawing is not None and drawing.has_one_of


@pytest.mark.parametrize("name", [row.name for row in ROWS.values()])
def test_a_name_fits_its_box(name):
    lines = wrapped(name)
    assert 1 <= len(lines) <= prerequisites.LINES
    assert all(0 < len(line) <= prerequisites.LINE_LETTERS for line in lines)


def _starts(path: str) -> int:
    return int(path[1:].split(" ")[0])


def _ends(path: str) -> int:
    return int(path.split(" ")[-2])


def test_every_box_of_a_drawing_is_joined_to_another():
    for key in ROWS:
        drawing = around(key, ROWS).drawing
        if drawing is not None:
            ends = {_starts(edge.path) - BOX_WIDTH for edge in drawing.edges} | {
                _ends(edge.path) for edge in drawing.edges
            }
            assert {node.x for node in drawing.nodes} == ends
            assert len(drawing.edges) >= len(drawing.nodes) - 1
