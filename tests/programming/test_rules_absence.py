"""Rule 8 (new work) and rule 15 (after absence), word by word. Common practice; the days are rows of a table."""

import pytest

from programming.rules.absence import Occasion, Recheck, Return, after_absence, level_today, new_work
from tests.reference import table

INTERVALS = table("review_intervals")


@pytest.mark.parametrize(
    ("occasion", "most"),
    [
        (Occasion(0), 8),
        (Occasion(1, days_since_first=7, days_away=7), 3),
        (Occasion(5, days_since_first=41, days_away=7), 3),
        (Occasion(6, days_since_first=42, days_away=7), 2),
        (Occasion(30, days_since_first=300, days_away=7, is_group=True), 1),
        (Occasion(30, days_since_first=300, days_away=7, is_unwell=True), 0),
        (Occasion(30, days_since_first=300, days_away=21), 2),
        (Occasion(30, days_since_first=300, days_away=22), 0),
    ],
)
def test_new_work_by_the_occasion(occasion, most):
    assert new_work(occasion).most == most


def test_a_first_lesson_is_all_of_level_one_or_two():
    assert new_work(Occasion(0)).top_level == 2
    assert new_work(Occasion(1)).top_level is None


@pytest.mark.parametrize(
    ("days", "back"),
    [
        (20, Return()),
        (21, Return(1, 1)),
        (42, Return(1, 1)),
        (43, Return(1, 2, Recheck.QUICK)),
        (84, Return(1, 2, Recheck.QUICK)),
        (85, Return(recheck=Recheck.FULL)),
    ],
)
def test_the_first_and_last_day_of_each_absence(days, back):
    assert after_absence(days, INTERVALS) == back


def test_a_level_goes_down_for_the_lessons_it_is_meant_for_and_never_under_one():
    six_weeks = after_absence(50, INTERVALS)
    assert [level_today(3, six_weeks, lessons_since=since) for since in range(3)] == [2, 2, 3]
    assert level_today(1, six_weeks, lessons_since=0) == 1
