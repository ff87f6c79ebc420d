"""When something is asked or measured again.

Sources: Riebe D et al. 2015 (riebe2015, second hand) for the twelve months of a clearance for hard work. Every other
interval is common practice or a default of the house, no source, and says so in the table.
"""

from dataclasses import replace
from datetime import timedelta

import pytest

from clients.rules import Outcome, due, screen
from tests.published.someone import BOOK, ON, WELL

# Item, lessons, days, source.
INTERVALS = [
    ("check_in", 1, None, "studio_practice"),
    ("short_review", 6, 42, "studio_practice"),
    ("full_reassessment", 12, 84, "studio_practice"),
    ("stale_program", None, 84, "studio_default"),
    ("pregnancy_check", 1, None, "studio_practice"),
    ("pregnancy_review", None, 28, "studio_practice"),
    ("screening_form", None, 365, "studio_default"),
    ("clearance_letter", None, 183, "studio_default"),
    ("vigorous_clearance", None, 365, "riebe2015"),
    ("absence_short", None, 21, "studio_practice"),
    ("absence_middle", None, 43, "studio_practice"),
    ("absence_long", None, 85, "studio_practice"),
    ("immediate", None, 0, "studio_default"),
    ("immediate_pain", None, 0, "studio_default"),
    ("hands_on_consent", None, 365, "studio_default"),
    ("spring_inspection", None, 7, "studio_practice"),
    ("spring_replacement", None, 730, "studio_practice"),
]


def test_the_table_holds_these_intervals_and_no_other():
    assert [item for item, *_ in INTERVALS] == list(BOOK.intervals)


@pytest.mark.parametrize(("item", "visits", "days", "source"), INTERVALS)
def test_each_interval_comes_on_its_day_or_after_its_lessons_and_not_before(item, visits, days, source):
    interval = BOOK.intervals[item]
    assert (interval.visits, interval.days, interval.source_ids) == (visits, days, (source,))
    found = due(item, counted_from=ON, visits_then=3, visits_now=3, intervals=BOOK.intervals)
    for reached, is_due in ((-1, False), (0, True), (1, True)):
        if days is not None:
            assert found.is_due(ON + timedelta(days=days + reached), 3) is is_due
        if visits is not None:
            assert found.is_due(ON, 3 + visits + reached) is is_due


@pytest.mark.parametrize(
    ("days", "expected"),
    [(0, Outcome.CLEAR), (364, Outcome.CLEAR), (365, Outcome.INCOMPLETE), (366, Outcome.INCOMPLETE)],
)
def test_answers_hold_for_twelve_months_and_not_a_day_longer(days, expected):
    # A default of the house: 12 months at most
    assert screen(replace(WELL, written_on=ON), BOOK, on=ON + timedelta(days=days)).outcome is expected


def test_a_clearance_for_hard_work_holds_twelve_months():
    # riebe2015, second hand
    (leaf,) = [row for row in BOOK.leaves if row.clearance_max_age_months]
    assert (leaf.leaf, leaf.clearance_max_age_months) == (14, 12)
    assert BOOK.intervals["vigorous_clearance"].days == 365


def test_the_absences_follow_on_one_another_without_a_gap():
    # common practice, no source: 3 to 6 weeks (21 to 42 days), more than 6 (43 to 84), more than 12 (85 and more)
    triggers = [BOOK.intervals[item].trigger for item in ("absence_short", "absence_middle", "absence_long")]
    assert "21 to 42 days" in triggers[0]
    assert "43 to 84 days" in triggers[1]
    assert "85 days or more" in triggers[2]
