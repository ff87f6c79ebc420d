"""What is left out after a hip was replaced, and for how long.

Sources: Eannucci EF et al. A protocol of pose avoidance in place of hip precautions after posterior-approach total hip
arthroplasty, HSS Journal 15:247, 2019 (eannucci2019; abstract read): no bending past 90 degrees, no adduction, no
turning in, for 6 to 12 weeks, sometimes for life. The approach from the front: surgeons' public pages
(hip_surgeon_pages, second hand).
"""

import pytest

from clients.rules import ActiveCondition, Level, Outcome, Side
from tests.published.someone import BOOK, ago, asked_to_confirm, avoided, found, levels, row_on, sources_of

SHORTEST_WEEKS, LONGEST_WEEKS = 6, 12


def test_the_three_movements_of_the_posterior_precautions_are_avoided():
    # eannucci2019, read. Turning in belongs to the same term as crossing the midline.
    assert {"hip_flex_90", "hip_add_mid"} <= avoided("C26")
    assert "turned inward" in BOOK.demands["hip_add_mid"].definition
    assert "right angle" in BOOK.demands["hip_flex_90"].definition
    assert sources_of("C26", "hip_flex_90") == sources_of("C26", "hip_add_mid") == ("eannucci2019",)


@pytest.mark.parametrize(
    ("days", "row"),
    [
        (0, "C26"),
        (7 * SHORTEST_WEEKS - 1, "C26"),
        (7 * SHORTEST_WEEKS, "C26"),  # eannucci2019: 6 weeks is the shorter of the two; the house keeps the longer
        (7 * LONGEST_WEEKS - 1, "C26"),  # 83 days are under 12 weeks
        (7 * LONGEST_WEEKS, "C27"),  # 84 days are not
        (7 * LONGEST_WEEKS + 1, "C27"),
    ],
)
def test_the_longer_of_the_published_windows_holds_to_its_last_day(days, row):
    assert row_on("C26", days) == row


def test_after_twelve_weeks_the_precautions_stay_until_a_person_confirms():
    # eannucci2019: for some surgeons they hold for life; that a date never lifts them is a rule of the house
    assert asked_to_confirm("C26", 83) == []
    assert asked_to_confirm("C26", 84) == [("C26", "C27")]
    assert levels("C26", since=ago(84))["hip_flex_90"] is Level.AVOID


def test_later_the_two_are_adapted_and_never_joined():
    # eannucci2019: pose avoidance, that is, not all of them at once
    assert levels("C27")["hip_flex_90"] is levels("C27")["hip_add_mid"] is Level.ADAPT
    hows = {rule.how for rule in BOOK.limits_by_condition["C27"] if rule.demand in ("hip_flex_90", "hip_add_mid")}
    assert hows == {"never bent and crossed at once"}


def test_from_the_front_it_is_the_leg_behind_that_is_avoided_and_bending_is_not():
    # hip_surgeon_pages, second hand: no extreme extension. The step to the demand is common practice, no source.
    front = levels("C28")
    assert front["hip_ext"] is Level.AVOID
    assert front["hip_flex_90"] is Level.ADAPT
    assert "hip_add_mid" not in front
    assert (row_on("C28", 83), row_on("C28", 84)) == ("C28", "")


@pytest.mark.parametrize("condition_id", ["C26", "C28"])
def test_the_surgeons_release_comes_before_any_lesson(condition_id):
    # eannucci2019 and hip_surgeon_pages: the surgeon decides
    told = ActiveCondition(condition_id, Side.LEFT, ago(40))
    assert found(conditions=(told,)).outcome is Outcome.REFER


def test_only_the_replaced_side_is_limited():
    # common practice, no source
    found_left = found(conditions=(ActiveCondition("C26", Side.LEFT, ago(40)),)).limits
    assert {limit.side for limit in found_left} == {Side.LEFT}


def test_both_positions_on_the_precautions_are_kept():
    # eannucci2019: no benefit shown
    point = BOOK.disagreements["D07"]
    assert (point.sources_a, point.sources_b) == (("eannucci2019",), ("eannucci2019",))
    assert "12 weeks" in point.default_rule and "surgeon" in point.default_rule
