"""Two versions of a template line by line, and a line's set-up in words."""

import hypothesis.strategies as st
from hypothesis import given, settings

from programming.rules.building.telling import setting_words, to_change
from programming.rules.building.versions import Difference, compared, differences
from tests.programming.reference import FOUNDATION, REPERTOIRE, line, lines

SAME, CHANGED, MOVED, ADDED, GONE = Difference


def told(before, after):
    return [(row.what, row.before, row.after) for row in compared(before, after)]


def test_a_version_beside_itself_differs_in_nothing():
    assert {row.what for row in compared(lines(*FOUNDATION), lines(*FOUNDATION))} == {SAME}


def test_what_was_put_in_taken_out_and_moved_is_told_apart():
    before, after = lines("R-FW1", "R-HUN", "R-FRO", "R-PEL"), lines("R-FRO", "R-FW1", "R-RUN", "R-PEL")
    assert told(before, after) == [(MOVED, 3, 1), (SAME, 1, 2), (GONE, 2, None), (ADDED, None, 3), (SAME, 4, 4)]


def test_what_is_asked_differently_is_told_in_words():
    before = line("R-HUN")
    after = line("R-HUN", springs=3, reps=6, adapted=True, setup={"headrest": "down"})
    assert differences(before, after) == (
        "springs 4 → 3",
        "repetitions 5–10 → 6",
        "in its easier form",
        "headrest up → down",
    )


def test_an_exercise_that_stands_twice_is_compared_twice():
    assert told(lines("R-HUN", "R-HUN"), lines("R-HUN")) == [(SAME, 1, 1), (GONE, 2, None)]


rows = st.lists(st.sampled_from(sorted(REPERTOIRE)), max_size=12)


@given(rows, rows)
@settings(max_examples=150, deadline=None)
def test_every_line_of_both_versions_is_told_once(before, after):
    found = compared(lines(*before), lines(*after))
    assert [row.after for row in found if row.after is not None] == list(range(1, len(after) + 1))
    assert sorted(row.before for row in found if row.before is not None) == list(range(1, len(before) + 1))
    assert all(row.name == REPERTOIRE[after[row.after - 1]].name for row in found if row.after)


def test_what_a_hand_has_to_change_before_a_line_is_told_key_by_key():
    assert to_change(None, line("R-FW1")) == ()
    assert to_change(line("R-FW1"), line("R-FW2")) == ()
    assert to_change(line("R-FW4"), line("R-LB2")) == ("foot bar down", "headrest down", "long box", "handles")
    assert to_change(line("R-PEL"), line("T-01")) == ("to the tower",)


def test_settings_are_said_as_a_teacher_says_them():
    assert setting_words("box", "none") == "no box"
    assert setting_words("attach", "none") == "hands free"
    assert setting_words("footbar", "up") == "foot bar up"
    assert setting_words("loops", "none") == "no loops"
