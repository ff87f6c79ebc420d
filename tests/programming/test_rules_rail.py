"""The spring rail: where each line and each spring is drawn."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programming.rules.marks import Decision
from programming.rules.rail import RailLine, rail
from programming.rules.springs import SpringSet
from studio.rules import ApparatusKind

SPRINGS = st.one_of(st.none(), st.builds(SpringSet, st.integers(0, 3), st.integers(0, 4), st.integers(0, 2)))
SECONDS = st.one_of(st.just(0.0), st.floats(20, 400))
RAIL_LINES = st.lists(
    st.builds(
        RailLine,
        planned_id=st.just("1"),
        label=st.just("line"),
        group=st.sampled_from(["Footwork", "Tower"]),
        apparatus=st.sampled_from(list(ApparatusKind)),
        decision=st.sampled_from(list(Decision)),
        seconds=SECONDS,
        springs=SPRINGS,
    ),
    max_size=30,
)


def rail_line(
    seconds, *, springs=None, apparatus=ApparatusKind.REFORMER, group="Footwork", decision=Decision.AS_PLANNED
):
    return RailLine("1", "line", group, apparatus, decision, seconds, springs)


def test_lines_lie_one_after_another_from_the_end_of_the_arrival():
    drawn = rail([rail_line(330), rail_line(660)], slot_seconds=3300, arrival=165, close=165)
    assert [(one.start, one.width, one.minute) for one in drawn.segments] == [(5, 10, 2.75), (15, 20, 8.25)]
    assert (drawn.arrival, drawn.close, drawn.spare, drawn.over, drawn.minutes) == (5, 5, 60, 0, 55)


def test_a_heavy_a_medium_and_a_light_spring_hang_inside_their_line_heaviest_first():
    strands = rail([rail_line(3300, springs=SpringSet.of("HML"))], slot_seconds=3300).segments[0].strands
    assert [strand.kind for strand in strands] == ["h", "m", "l"]
    # Room of 5, 4 and 3 parts: the middles are at 2.5, 7 and 10.5 twelfths.
    assert [strand.at for strand in strands] == pytest.approx([100 * 2.5 / 12, 100 * 7 / 12, 100 * 10.5 / 12])


def test_a_line_left_out_has_no_width_and_marks_its_place():
    drawn = rail([rail_line(330), rail_line(0, decision=Decision.LEFT_OUT), rail_line(330)], slot_seconds=3300)
    assert [(one.kind, one.start, one.width) for one in drawn.segments][1] == (Decision.LEFT_OUT, 10, 0)


def test_a_change_of_apparatus_is_ticked_and_groups_are_bracketed():
    lines = [
        rail_line(330),
        rail_line(330),
        rail_line(330, apparatus=ApparatusKind.TOWER, group="Tower"),
    ]
    drawn = rail(lines, slot_seconds=3300)
    assert [one.begins_apparatus for one in drawn.segments] == [False, False, True]
    assert [(one.label, one.start, one.width) for one in drawn.brackets] == [("Footwork", 0, 20), ("Tower", 20, 10)]


def test_ticks_stand_every_five_minutes_with_a_number_every_ten():
    ticks = rail([], slot_seconds=1800).ticks
    assert [tick.minute for tick in ticks] == [0, 5, 10, 15, 20, 25, 30]
    assert [tick.minute for tick in ticks if tick.is_labelled] == [0, 10, 20, 30]
    assert ticks[3].at == 50


def test_a_lesson_longer_than_its_slot_fills_the_rail_and_says_how_much_is_over():
    drawn = rail([rail_line(4000)], slot_seconds=3000)
    assert (drawn.segments[0].width, drawn.spare, drawn.over) == (100, 0, 25)


def test_a_rail_without_time_is_refused():
    with pytest.raises(ValueError):
        rail([], slot_seconds=0)


@given(RAIL_LINES, st.floats(600, 6000), st.floats(0, 300), st.floats(0, 300))
def test_arrival_lines_close_and_spare_share_the_whole_rail(lines, slot, arrival, close):
    drawn = rail(lines, slot_seconds=slot, arrival=arrival, close=close)
    widths = sum(one.width for one in drawn.segments)
    assert drawn.arrival + widths + drawn.close + drawn.spare == pytest.approx(100)
    assert drawn.spare == 0 or drawn.over == 0


@given(RAIL_LINES)
def test_every_strand_hangs_inside_its_line_and_none_is_lost(lines):
    drawn = rail(lines, slot_seconds=3300)
    for line, segment in zip(lines, drawn.segments, strict=True):
        assert all(segment.start < strand.at < segment.end for strand in segment.strands)
        expected = line.springs.count if line.springs and line.seconds else 0
        assert len(segment.strands) == expected
        places = [strand.at for strand in segment.strands]
        assert places == sorted(set(places))
