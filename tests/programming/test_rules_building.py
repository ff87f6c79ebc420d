"""Building a template: whatever a teacher taps, no line is lost, no series broken, and what parts share still adds up.

Pools, step-downs and series are common practice, no source; the totals are those of the shipped repertoire.
"""

import itertools

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from programming.rules.building import (
    Deed,
    DraftLine,
    Move,
    PutRow,
    PutSeries,
    SetCounts,
    SetWords,
    Touch,
    as_lines,
    blocks,
    grouped,
    made,
    sums,
)
from programming.rules.building.counts import setup_choices
from programming.rules.exposure import ceilings_from
from programming.rules.lines import whole_exercises
from programming.rules.pools import whole_pools
from programming.rules.timing import Pace, changes, program_seconds
from programming.rules.validation import pools_hold
from studio.rules import ApparatusKind, Refused
from tests.programming.reference import FOUNDATION, REPERTOIRE, TIMES
from tests.reference import table

SERIES = sorted({(row.apparatus, row.series) for row in REPERTOIRE.values()})
REFORMER = ApparatusKind.REFORMER
CEILINGS = ceilings_from(table("exposure_ceilings"))


def built(*edits):
    """A draft after these edits on an empty page."""
    lines = ()
    for edit in edits:
        lines = kept(made(lines, edit, REPERTOIRE).lines)
    return lines


def kept(lines):
    """New lines get the keys a table would give them."""
    number = max([line.key for line in lines] + [0])
    out = []
    for line in lines:
        number += line.key < 0
        out.append(DraftLine(**{**vars(line), "key": number if line.key < 0 else line.key}))
    return tuple(out)


def foundation():
    return grouped([DraftLine(n, key) for n, key in enumerate(FOUNDATION, 1)], REPERTOIRE)


def ids(lines):
    return [line.exercise_id for line in lines]


def refusal(lines, edit):
    with pytest.raises(Refused) as caught:
        made(lines, edit, REPERTOIRE)
    return caught.value.reasons[0]


def key_of(lines, exercise_id):
    return next(line.key for line in lines if line.exercise_id == exercise_id)


def reps_of(lines):
    return {line.exercise_id: line.reps for line in lines}


# --- series and single rows -------------------------------------------------------------------------------------------
def test_a_series_comes_in_as_one_block_in_its_order():
    lines = built(PutSeries(REFORMER, "Stomach massage"))
    assert ids(lines) == ["R-SM1", "R-SM2", "R-SM3", "R-SM4"]
    assert [len(block) for block in blocks(lines)] == [4]


def test_a_series_comes_in_up_to_a_level_and_says_what_it_left_out():
    done = made((), PutSeries(REFORMER, "Rowing", up_to=2), REPERTOIRE)
    assert ids(done.lines) == ["R-ROW3", "R-ROW6"]
    assert "Above level 2" in done.follows[0] and "into the breastbone" in done.follows[0]


def test_a_part_goes_to_its_place_in_its_series_wherever_that_stands():
    lines = built(PutSeries(REFORMER, "Footwork", up_to=1), PutRow("R-HUN"), PutRow("R-FW5"))
    assert ids(lines) == ["R-FW1", "R-FW2", "R-FW3", "R-FW4", "R-FW5", "R-HUN"]
    assert [len(block) for block in blocks(lines)] == [5, 1]


def test_a_series_that_is_partly_there_is_filled_up_and_nothing_stands_twice():
    lines = built(PutRow("R-SM2"), PutRow("R-PEL"), PutSeries(REFORMER, "Stomach massage"))
    assert ids(lines) == ["R-SM1", "R-SM2", "R-SM3", "R-SM4", "R-PEL"]


def test_a_series_that_is_whole_is_not_put_in_again():
    lines = built(PutSeries(REFORMER, "Tendon stretch"))
    assert refusal(lines, PutSeries(REFORMER, "Tendon stretch")).code == "nothing_left"


def test_a_row_named_twice_is_put_in_and_said():
    done = made(built(PutRow("R-HUN")), PutRow("R-HUN"), REPERTOIRE)
    assert ids(done.lines) == ["R-HUN", "R-HUN"]
    assert "twice" in done.follows[0]


def test_a_row_that_the_repertoire_does_not_know_is_refused():
    assert refusal((), PutRow("R-NOPE")).code == "no_such_exercise"
    assert refusal((), PutSeries(REFORMER, "No series")).code == "no_such_series"


def test_a_template_without_blocks_gets_them_from_its_series():
    assert [len(block) for block in blocks(foundation())][:5] == [4, 1, 1, 1, 1]


def test_no_draft_grows_beyond_what_a_page_can_hold():
    lines = tuple(DraftLine(n, "R-HUN", n) for n in range(1, 91))
    assert refusal(lines, PutRow("R-FRO")).code == "too_many_lines"


# --- moving -----------------------------------------------------------------------------------------------------------
def test_a_single_line_steps_past_a_whole_series():
    lines = built(PutSeries(REFORMER, "Footwork", up_to=1), PutRow("R-HUN"))
    up = made(lines, Touch(Deed.UP, key_of(lines, "R-HUN")), REPERTOIRE)
    assert ids(up.lines) == ["R-HUN", "R-FW1", "R-FW2", "R-FW3", "R-FW4"]
    assert up.says == "Hundred comes first now."


def test_a_part_steps_inside_its_series_and_leaves_it_at_the_edge():
    lines = built(PutRow("R-HUN"), PutSeries(REFORMER, "Stomach massage", up_to=2))
    inside = made(lines, Touch(Deed.UP, key_of(lines, "R-SM2")), REPERTOIRE).lines
    assert ids(inside) == ["R-HUN", "R-SM2", "R-SM1"]
    outside = made(inside, Touch(Deed.UP, key_of(lines, "R-SM2")), REPERTOIRE).lines
    assert ids(outside) == ["R-SM2", "R-HUN", "R-SM1"]
    assert [len(block) for block in blocks(outside)] == [1, 1, 1]


def test_a_block_moves_as_one_and_never_lands_inside_another():
    lines = built(PutSeries(REFORMER, "Footwork", up_to=1), PutRow("R-HUN"), PutSeries(REFORMER, "Stomach massage"))
    dropped = Move(key_of(lines, "R-SM2"), before=key_of(lines, "R-FW2"), whole_block=True)
    after = made(lines, dropped, REPERTOIRE).lines
    assert ids(after)[:4] == ["R-SM1", "R-SM2", "R-SM3", "R-SM4"]
    assert ids(after)[4:] == ["R-FW1", "R-FW2", "R-FW3", "R-FW4", "R-HUN"]


def test_a_line_dropped_inside_a_block_moves_with_it_from_then_on():
    lines = built(PutSeries(REFORMER, "Footwork", up_to=1), PutRow("R-HUN"))
    after = made(lines, Move(key_of(lines, "R-HUN"), before=key_of(lines, "R-FW3")), REPERTOIRE).lines
    assert ids(after) == ["R-FW1", "R-FW2", "R-HUN", "R-FW3", "R-FW4"]
    assert len(blocks(after)) == 1


def test_a_block_can_be_taken_apart_and_put_together_again():
    lines = built(PutSeries(REFORMER, "Tendon stretch"))
    loose = made(lines, Touch(Deed.LOOSEN, lines[0].key), REPERTOIRE).lines
    assert [len(block) for block in blocks(loose)] == [1, 1]
    joined = made(loose, Touch(Deed.JOIN, loose[1].key), REPERTOIRE).lines
    assert [len(block) for block in blocks(joined)] == [2]


def test_a_line_that_somebody_else_took_out_is_named_as_gone():
    assert refusal(foundation(), Touch(Deed.UP, 999)).code == "no_such_line"
    assert refusal(foundation(), Move(1, before=999)).code == "no_such_line"


# --- pools ------------------------------------------------------------------------------------------------------------
def test_a_part_that_comes_in_takes_its_repetitions_from_the_shared_total():
    done = made(built(PutRow("R-SM3")), PutRow("R-SM4"), REPERTOIRE)
    assert reps_of(done.lines) == {"R-SM3": 6, "R-SM4": 2}
    assert done.follows == ("Stomach massage shares 10: reach 6, twist 2 a side.",)


def test_a_part_that_goes_gives_its_repetitions_back():
    lines = built(PutRow("R-SM3"), PutRow("R-SM4"))
    done = made(lines, Touch(Deed.OUT, key_of(lines, "R-SM4")), REPERTOIRE)
    assert reps_of(done.lines) == {"R-SM3": 10}


def test_two_donors_share_evenly_what_comes_back():
    lines = built(PutSeries(REFORMER, "Knee stretches"))
    assert sum(reps_of(lines).values()) == 20
    done = made(lines, Touch(Deed.OUT, key_of(lines, "R-KN3")), REPERTOIRE)
    assert reps_of(done.lines) == {"R-KN1": 10, "R-KN2": 10}


def test_the_other_part_follows_a_change_on_either_side():
    lines = built(PutRow("R-SM3"), PutRow("R-SM4"))
    more = made(lines, Touch(Deed.MORE_REPS, key_of(lines, "R-SM4")), REPERTOIRE).lines
    assert reps_of(more) == {"R-SM3": 4, "R-SM4": 3}
    back = made(more, SetCounts(key_of(lines, "R-SM3"), reps=6), REPERTOIRE).lines
    assert reps_of(back) == {"R-SM3": 6, "R-SM4": 2}


def test_a_share_that_breaks_the_minimum_is_made_and_the_rules_say_so():
    lines = built(PutRow("R-SM3"), PutRow("R-SM4"))
    done = made(lines, SetCounts(key_of(lines, "R-SM4"), reps=4), REPERTOIRE).lines
    assert reps_of(done) == {"R-SM3": 2, "R-SM4": 4}
    assert [found.rule for found in pools_hold(as_lines(done, REPERTOIRE), REPERTOIRE)] == ["V8"]


# --- springs ----------------------------------------------------------------------------------------------------------
def test_springs_do_not_rise_inside_a_step_down():
    lines = built(PutSeries(REFORMER, "Stomach massage"))
    reason = refusal(lines, Touch(Deed.MORE_SPRINGS, key_of(lines, "R-SM4")))
    assert (reason.code, reason.allowed) == ("rising_springs", "at most 2 here")


def test_later_parts_come_down_with_an_earlier_one():
    lines = built(PutSeries(REFORMER, "Footwork", up_to=1))
    done = made(lines, SetCounts(lines[0].key, springs=3), REPERTOIRE)
    assert [line.springs for line in done.lines] == [3, 3, 3, 3]
    assert done.follows == ("Came down with it: arches, heels, tendon stretch lying.",)


def test_a_part_that_comes_in_later_starts_no_higher_than_the_one_before_it():
    lines = built(PutRow("R-FW1"), PutRow("R-FW2"))
    lower = made(lines, SetCounts(lines[0].key, springs=2), REPERTOIRE).lines
    done = made(lower, PutRow("R-FW3"), REPERTOIRE)
    assert [line.springs for line in done.lines] == [2, 2, 2]


def test_springs_stay_in_the_range_of_the_row_and_a_mat_row_has_none():
    lines = built(PutRow("R-HUN"), PutRow("M-01"))
    assert refusal(lines, SetCounts(key_of(lines, "R-HUN"), springs=7)).allowed == "2 to 4"
    assert refusal(lines, Touch(Deed.MORE_SPRINGS, key_of(lines, "M-01"))).code == "no_springs"


def test_the_usual_count_can_be_had_back():
    lines = built(PutRow("R-HUN"))
    fewer = made(lines, Touch(Deed.FEWER_SPRINGS, lines[0].key), REPERTOIRE).lines
    assert fewer[0].springs == 3
    assert made(fewer, Touch(Deed.USUAL_SPRINGS, lines[0].key), REPERTOIRE).lines[0].springs is None


# --- form, set-up, sides ----------------------------------------------------------------------------------------------
def test_an_easier_form_takes_its_demands_out_of_the_sums():
    lines = built(PutRow("R-HUN"))
    easier = made(lines, Touch(Deed.EASIER, lines[0].key), REPERTOIRE).lines
    assert as_lines(lines, REPERTOIRE)[0].is_flexion
    assert not as_lines(easier, REPERTOIRE)[0].is_flexion


def test_a_set_up_that_is_the_rows_own_is_not_kept_and_an_unknown_one_refused():
    lines = built(PutRow("R-HUN"))
    done = made(lines, SetWords(lines[0].key, {"headrest": "down", "footbar": "up"}), REPERTOIRE).lines
    assert done[0].setup == {"headrest": "down"}
    assert refusal(lines, SetWords(lines[0].key, {"headrest": "sideways"})).code == "setup"
    assert refusal(lines, SetWords(lines[0].key, {"wings": "on"})).code == "setup"


def test_set_up_words_come_from_the_apparatus_itself():
    assert setup_choices(REPERTOIRE, REPERTOIRE["R-HUN"])["box"] == ("long", "none", "short")
    assert setup_choices(REPERTOIRE, REPERTOIRE["M-01"]) == {}


def test_an_extra_on_one_side_needs_sides():
    lines = built(PutRow("R-SB3"), PutRow("R-HUN"))
    assert made(lines, SetWords(key_of(lines, "R-SB3"), extra=1, reason="left is weaker"), REPERTOIRE)
    assert refusal(lines, SetWords(key_of(lines, "R-HUN"), extra=1)).code == "no_sides"
    assert refusal(lines, SetWords(key_of(lines, "R-SB3"), extra=9)).code == "extra"


# --- sums -------------------------------------------------------------------------------------------------------------
def test_the_sums_of_the_foundation_program_are_the_worked_ones():
    # 48.2 minutes at learning pace with two new exercises of 90 seconds each: 45.2 without them (programs, section 3).
    found = sums(as_lines(foundation(), REPERTOIRE), TIMES, minutes=55, pace=Pace.LEARNING)
    assert round(found.seconds / 60, 1) == 45.2
    assert (found.flow.flexion, found.flow.extension, found.flow.box_fetches) == (7, 1, 2)


def test_a_template_without_a_client_sums_every_demand_that_has_a_ceiling():
    read = as_lines(foundation(), REPERTOIRE)
    found = {one.demand: one for one in sums(read, TIMES, minutes=55, ceilings=CEILINGS).exposure}
    # Hundred 7.5 sets of 8 s, pulling straps 4.5 of 6 s: at least 87 seconds, without pace or coaching.
    assert found["neck_hold"].seconds >= 87
    assert set(found) == {one.demand for one in CEILINGS}


# --- whatever is tapped -----------------------------------------------------------------------------------------------
@st.composite
def edits(draw):
    """One edit as a page sends it; keys are drawn from a small range, so that most of them exist."""
    key, before = draw(st.integers(1, 14)), draw(st.integers(0, 14))
    kind = draw(st.integers(0, 6))
    if kind <= 2:
        return Touch(draw(st.sampled_from(Deed)), key)
    if kind == 3:
        return Move(key, before, whole_block=draw(st.booleans()))
    if kind == 4:
        return PutRow(draw(st.sampled_from(sorted(REPERTOIRE))), before=draw(st.none() | st.just(before)))
    if kind == 5:
        apparatus, series = draw(st.sampled_from(SERIES))
        return PutSeries(apparatus, series, up_to=draw(st.integers(1, 5)), before=draw(st.none() | st.just(before)))
    return SetCounts(key, springs=draw(st.none() | st.integers(0, 5)), reps=draw(st.none() | st.integers(0, 12)))


def tried(lines, edit):
    try:
        return kept(made(lines, edit, REPERTOIRE).lines)
    except Refused:
        return lines


def rising(lines):
    return {
        (before.planned_id, after.planned_id)
        for run in whole_exercises(as_lines(lines, REPERTOIRE))
        for before, after in itertools.pairwise(run)
        if (after.springs or 0) > (before.springs or 0)
    }


@given(st.lists(edits(), max_size=12))
@settings(max_examples=150, deadline=None)
def test_no_sequence_of_taps_loses_a_line_or_tears_a_block(taps):
    lines = foundation()
    for edit in taps:
        after = tried(lines, edit)
        if isinstance(edit, Move) or (isinstance(edit, Touch) and "out" not in edit.deed):
            assert sorted(line.key for line in after) == sorted(line.key for line in lines)
        lines = after
        assert len({line.key for line in lines}) == len(lines)
        numbers = [block[0].block for block in blocks(lines)]
        assert numbers == list(range(1, len(numbers) + 1))


@given(st.lists(edits(), max_size=12))
@settings(max_examples=150, deadline=None)
def test_changing_counts_never_makes_springs_rise(taps):
    lines = foundation()
    for edit in taps:
        after = tried(lines, edit)
        if isinstance(edit, SetCounts) or (isinstance(edit, Touch) and "springs" in edit.deed):
            assert rising(after) <= rising(lines)
        lines = after


@given(st.lists(edits(), max_size=12))
@settings(max_examples=150, deadline=None)
def test_putting_a_part_in_keeps_every_pool_whole_and_taking_it_out_gives_all_back(taps):
    lines = foundation()
    for edit in taps:
        lines = tried(lines, edit)
    for pool in whole_pools(REPERTOIRE, {row.id for row in REPERTOIRE.values()}):
        if pool.recipient.id in ids(lines) or any(ids(lines).count(row.id) > 1 for row in pool.donors):
            continue
        for row in (*pool.donors, pool.recipient):
            if row.id not in ids(lines):
                lines = tried(lines, PutRow(row.id))
        counts = reps_of(lines)
        assert pool.holds({row.id: counts[row.id] for row in pool.donors}, counts[pool.recipient.id])
        lines = tried(lines, Touch(Deed.OUT, key_of(lines, pool.recipient.id)))
        assert sum(reps_of(lines)[row.id] * row.side_factor for row in pool.donors) == pool.total


@given(st.integers(0, 40), st.sampled_from(["up", "down"]))
@settings(max_examples=60, deadline=None)
def test_a_block_that_stepped_one_way_steps_back_the_other(at, way):
    lines = foundation()
    key = lines[at % len(lines)].key
    there, back = (Deed.BLOCK_UP, Deed.BLOCK_DOWN) if way == "up" else (Deed.BLOCK_DOWN, Deed.BLOCK_UP)
    after = made(lines, Touch(there, key), REPERTOIRE).lines
    assert after == lines or made(after, Touch(back, key), REPERTOIRE).lines == lines


@given(st.lists(edits(), max_size=12), st.sampled_from(Pace))
@settings(max_examples=100, deadline=None)
def test_the_sums_of_the_lines_are_the_sums_of_the_lesson(taps, pace):
    lines = foundation()
    for edit in taps:
        lines = tried(lines, edit)
    read = as_lines(lines, REPERTOIRE)
    found = sums(read, TIMES, minutes=55, pace=pace)
    assert found.seconds == pytest.approx(program_seconds(read, TIMES, pace=pace))
    assert found.seconds == pytest.approx(TIMES.arrival + sum(line.seconds for line in found.lines) + TIMES.close)
    assert found.flow.changes == changes(read)
    assert sum(line.change.total for line in found.lines) == changes(read).total
    assert found.spare == pytest.approx(55 * 60 - found.seconds)
