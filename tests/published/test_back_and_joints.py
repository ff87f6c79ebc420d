"""Backs, ankles and arms: what the sources say of moving them.

Sources: Snook SH et al. 1998 (snook1998, read): less bending in the early morning, less pain. Wells C et al. 2014
(wells2014; abstract read): experts on Pilates in low back pain. Nava-Bringas TI et al. 2021 (nava_bringas2021, read):
stabilisation and flexion did equally well. Martin RL et al. 2021 with the Ottawa rule (apta_ankle2021, from memory):
who cannot take four steps is X-rayed. Trials and reviews on lymphoedema (lymphoedema_trials; abstracts read): lifting
that starts low and builds slowly does no harm. Bhattacharyya N et al. 2017 (bhattacharyya2017, read). NHS leaflet on
pelvic girdle pain (nhs_pgp_leaflet, read).
"""

import pytest

from clients.rules import ActiveCondition, Level, Outcome, Side
from tests.published.someone import BOOK, ago, avoided, found, levels, row_on, sources_of


def test_bending_is_left_out_while_a_disc_is_irritable():
    # snook1998, read
    assert {"flex_loaded", "flex_end"} <= avoided("C05")
    assert sources_of("C05", "flex_loaded") == ("snook1998",)
    assert "Early-morning bending" in BOOK.conditions["C05"].note


@pytest.mark.parametrize(("days", "row"), [(0, "C05"), (83, "C05"), (84, "C06"), (85, "C06")])
def test_an_irritable_disc_is_settled_after_twelve_weeks_at_the_earliest(days, row):
    # common practice, no source: about 12 weeks, or as long as the leg speaks
    assert row_on("C05", days) == row


@pytest.mark.parametrize(
    ("condition_id", "expected"),
    [
        ("C61", Outcome.CLEAR),  # wells2014, abstract read: low back pain without red flags is what it was asked for
        ("C08", Outcome.CLEAR),  # nava_bringas2021, read: exercise helps a stable slip, either way
        ("C09", Outcome.REFER),  # wells2014, abstract read: not with an unstable slip
    ],
)
def test_a_back_is_no_reason_to_stay_away_unless_it_is_unstable(condition_id, expected):
    assert found(conditions=(ActiveCondition(condition_id, needs_clearance=False),)).outcome is expected


def test_low_back_pain_without_flags_only_has_things_to_watch():
    # wells2014, abstract read, with the table's own note
    assert set(levels("C61").values()) == {Level.WATCH}


@pytest.mark.parametrize(("cannot_walk", "expected"), [(True, Outcome.REFER), (False, Outcome.CLEAR_LIMITED)])
def test_an_ankle_that_cannot_take_four_steps_is_looked_at_first(cannot_walk, expected):
    # apta_ankle2021 with the Ottawa rule, from memory
    assert BOOK.conditions["C33"].clearance_when == "cannot take four steps"
    told = ActiveCondition("C33", Side.LEFT, ago(3), needs_clearance=cannot_walk)
    assert found(conditions=(told,)).outcome is expected


@pytest.mark.parametrize(("days", "row"), [(0, "C33"), (41, "C33"), (42, "")])
def test_an_ankle_sprain_has_its_six_weeks(days, row):
    # common practice, no source
    assert row_on("C33", days) == row


def test_lymphoedema_lifts_and_builds_slowly_rather_than_not_at_all():
    # lymphoedema_trials, abstracts read
    assert avoided("C51") == set()
    hows = {rule.how for rule in BOOK.limits_by_condition["C51"] if rule.source_ids == ("lymphoedema_trials",)}
    assert hows == {"start low, build slowly, watch swelling"}


@pytest.mark.parametrize(("days", "row"), [(0, "C50"), (83, "C50"), (84, "C51"), (85, "C51")])
def test_the_arm_rests_for_twelve_weeks_after_breast_surgery(days, row):
    # A default of the house; acsm_cancer2019, from memory, gives no number of weeks
    assert row_on("C50", days) == row


def test_turning_the_head_quickly_is_limited_with_positional_vertigo():
    # bhattacharyya2017, read: it is provoked by changes of the head's position
    assert levels("C44")["posture_change"] in (Level.AVOID, Level.ADAPT)


def test_legs_stay_together_with_a_painful_pelvis():
    # nhs_pgp_leaflet, read
    assert "hip_abd_wide" in avoided("C10")
    assert sources_of("C10", "hip_abd_wide") == ("nhs_pgp_leaflet",)
