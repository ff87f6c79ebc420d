"""Bending, turning, loading and jumping with thin bones.

Sources: Giangregorio LM et al., Too Fit To Fracture, Osteoporos Int 2015 (giangregorio2015; tables 4 and 5 read,
PMC5101068) and 2014 (giangregorio2014, read); Brooke-Wavell K et al., UK consensus 2022 (brooke_wavell2022; abstract
read); Royal Osteoporosis Society on bending (ros_bending, read) and on impact after a fracture of the spine
(ros_impact, from memory); Sinaki M, Mikkelsen BA 1984 (sinaki1984, read).
"""

import pytest

from clients.rules import ActiveCondition, Level, Outcome
from tests.published.someone import BOOK, ago, asked_to_confirm, avoided, found, levels, row_on, sources_of


def test_only_loaded_or_end_range_rounding_is_avoided_not_all_bending():
    # giangregorio2015, read: no rapid, repeated, weighted or end-range bending and twisting. ros_bending, read: bending
    # under control is fine. Unloaded rounding in mid-range carries no term, so nothing can forbid it.
    assert {demand for demand in avoided("C01") if "flex" in demand} == {"flex_loaded", "flex_end", "rot_flex"}
    assert "slow unloaded rounding in mid-range" in BOOK.demands["flex_loaded"].not_if
    assert [code for code in BOOK.demands if code.startswith("flex")] == ["flex_loaded", "flex_end"]
    for demand in ("flex_loaded", "flex_end", "rot_flex"):
        assert sources_of("C01", demand) == ("giangregorio2015",)


def test_turning_is_slow_and_in_mid_range_and_lifting_stays_close_to_the_body():
    # giangregorio2015, tables 4 and 5, read
    assert levels("C01")["rotation"] is levels("C01")["straining"] is levels("C01")["pivot"] is Level.ADAPT
    hows = {rule.demand: rule.how for rule in BOOK.limits_by_condition["C01"]}
    assert hows["rotation"].startswith("slow, mid-range")
    assert "close to body" in hows["straining"]
    assert hows["pivot"] == "step to turn"


def test_balance_is_trained_and_not_avoided():
    # giangregorio2014, read: strength together with balance. giangregorio2015, read.
    assert levels("C01")["balance"] is Level.WATCH
    assert sources_of("C01", "balance") == ("giangregorio2015",)


def test_impact_stays_possible_without_a_fracture_of_the_spine_and_not_with_one():
    # brooke_wavell2022, abstract read: moderate impact for those without a fracture of the spine.
    assert levels("C01")["impact"] is Level.ADAPT
    assert sources_of("C01", "impact") == ("brooke_wavell2022",)
    # ros_impact, from memory
    assert levels("C03")["impact"] is levels("C04")["impact"] is Level.AVOID
    assert sources_of("C04", "impact") == ("ros_impact",)


def test_the_older_position_on_bending_is_shown_beside_the_newer():
    # sinaki1984, read: rounding left out. ros_bending, read: bending under control.
    point = BOOK.disagreements["D11"]
    assert (point.sources_a, point.sources_b) == (("sinaki1984",), ("ros_bending",))
    assert point.default_rule == "avoid loaded or end-range rounding only"


def test_harder_work_follows_the_newer_consensus():
    # brooke_wavell2022, abstract read; giangregorio2015, read
    assert BOOK.disagreements["D12"].sources_b == ("brooke_wavell2022", "giangregorio2015")
    assert BOOK.disagreements["D12"].default_rule == "position b"
    assert found(conditions=(ActiveCondition("C01", needs_clearance=False),)).outcome is Outcome.CLEAR


@pytest.mark.parametrize(("days", "row"), [(0, "C03"), (83, "C03"), (84, "C04"), (85, "C04")])
def test_a_fracture_of_the_spine_is_recent_for_twelve_weeks(days, row):
    # A default of the house; wells2014 and ponzano2023 (title only) give no number of weeks
    assert row_on("C03", days) == row


def test_a_fracture_that_still_hurts_keeps_its_limits_however_old_it_is():
    # giangregorio2014, read: pain and fracture together ask for more care
    painful = found(conditions=(ActiveCondition("C03", since=ago(900), is_held=True),))
    assert painful.outcome is Outcome.REFER
    assert painful.proposals == ()
    assert {limit.until for limit in painful.limits} == {None}
    assert asked_to_confirm("C03", 84) == [("C03", "C04")]


def test_a_healed_fracture_keeps_loaded_rounding_out():
    # giangregorio2015, read
    assert {"flex_loaded", "flex_end", "rot_flex"} <= avoided("C04")


def test_low_bone_density_alone_is_gentler_than_osteoporosis():
    # common practice, no source
    assert levels("C02")["flex_loaded"] is Level.ADAPT
    assert found(conditions=(ActiveCondition("C02"),)).outcome is Outcome.CLEAR
