"""The nine points of the Beighton score, and moving with joints that go further.

Sources: 2017 criteria for hypermobile Ehlers-Danlos syndrome (heds2017; table read, PMC7785693): 6 or more before
puberty, 5 or more from puberty to 50, 4 or more over 50; each little finger past 90 degrees, thumb to forearm, elbow
and knee 10 degrees past straight, and palms on the floor. Malek S et al., Rheumatol Int 2021 (malek2021; abstract
read): the score alone neither proves nor rules out. Engelbert RH et al. 2017 (engelbert2017; abstract read) and Keer
R, Simmonds J (keer_simmonds; read) for exercise.
"""

import pytest

from clients.rules import ActiveCondition, Level, Outcome
from clients.rules.form import questions
from tests.published.someone import BOOK, avoided, found, levels, sources_of

POINTS = {"little finger": 2, "thumb": 2, "elbow": 2, "knee": 2, "palms": 1}


def meets(points: int, *, age: int) -> bool:
    rows = [row for row in BOOK.norms if row.measure == "beighton" and (row.age_from, row.age_to) != (None, None)]
    (row,) = [row for row in rows if (row.age_from or 0) <= age <= (row.age_to or 200)]
    assert row.statistic.startswith("meets_if_at_least")
    return points >= int(row.value)


@pytest.mark.parametrize(
    ("age", "points", "is_met"),
    [
        (18, 4, False),  # heds2017, read: 5 or more to the age of 50
        (18, 5, True),
        (50, 4, False),
        (50, 5, True),
        (51, 3, False),  # heds2017, read: 4 or more over 50
        (51, 4, True),
        (80, 3, False),
        (80, 4, True),
    ],
)
def test_the_score_meets_the_published_line_of_the_age(age, points, is_met):
    assert meets(points, age=age) is is_met


def test_before_puberty_the_line_is_six():
    # heds2017, read
    (child,) = [row for row in BOOK.norms if row.statistic == "meets_if_at_least_before_puberty"]
    assert (child.measure, child.value, child.source_ids, child.how_checked) == ("beighton", "6", ("heds2017",), "read")


def test_the_score_runs_from_nought_to_nine_whole_points():
    # heds2017, read: four joints on two sides, and the trunk once
    score = BOOK.measures["beighton"]
    assert (score.min, score.max, score.decimals) == (0, sum(POINTS.values()), 0)
    protocol = score.protocol.lower()
    assert all(part in protocol for part in POINTS)
    assert "90 degrees" in protocol and "10 degrees" in protocol


def test_the_score_is_no_measure_of_change():
    # malek2021, abstract read: a way to sort people, not to follow one of them
    assert BOOK.measures["beighton"].mdc is None
    assert BOOK.measures["beighton"].higher_is_better is None


def test_nothing_is_inferred_from_a_score():
    # malek2021, abstract read: the score alone neither proves nor rules out. The condition is only ever told.
    assert "C40" in questions.REVEALS["H12"]
    assert all("beighton" not in row.clearance_when for row in BOOK.conditions.values())


def test_ends_of_range_are_left_out_and_control_comes_before_load():
    # engelbert2017 abstract and keer_simmonds, read
    assert avoided("C40") == {"hamstring_end", "stretch_end"}
    assert sources_of("C40", "stretch_end") == ("engelbert2017", "keer_simmonds")
    assert levels("C40")["balance"] is Level.WATCH
    # common practice, no source
    assert levels("C40")["wrist_wb"] is levels("C40")["shoulder_wb"] is Level.ADAPT


@pytest.mark.parametrize(
    ("needs_clearance", "expected"), [(False, Outcome.CLEAR), (True, Outcome.REFER), (None, Outcome.INCOMPLETE)]
)
def test_the_vascular_kind_or_a_recent_dislocation_waits_for_a_doctor(needs_clearance, expected):
    # common practice, no source
    assert found(conditions=(ActiveCondition("C40", needs_clearance=needs_clearance),)).outcome is expected
