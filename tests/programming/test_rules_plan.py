"""The plan over weeks, from the same history as the standings (common practice, no source)."""

from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from programming.rules import plan
from programming.rules.marks import Mark, Standing
from programming.rules.progress import Entry, Granted, standing

TODAY = date(2026, 3, 18)
WEEKS = plan.mondays(TODAY, 4)


def lesson(days_ago: int, score: int | None = None, mark: Mark = Mark.DONE) -> Entry:
    return Entry(TODAY - timedelta(days=days_ago), mark, score)


def test_the_weeks_are_mondays_and_end_with_this_week():
    assert (date(2026, 2, 23), date(2026, 3, 2), date(2026, 3, 9), date(2026, 3, 16)) == WEEKS


def test_a_row_tells_when_it_was_introduced_how_often_and_how_it_stood():
    found = plan.row("R-FW1", [lesson(14, 4), lesson(7, 4), lesson(5, 5)], WEEKS, today=TODAY)
    assert found.introduced_on == date(2026, 3, 4)
    assert [cell.times for cell in found.cells] == [0, 1, 2, 0]
    assert [cell.score for cell in found.cells] == [None, 4, 5, None]
    assert [cell.begins for cell in found.cells] == [False, True, False, False]
    words = [None, Standing.INTRODUCED, Standing.OWNED, Standing.OWNED]
    assert [cell.standing for cell in found.cells] == words


def test_a_skipped_line_introduces_nothing():
    found = plan.row("R-FW1", [lesson(7, mark=Mark.SKIPPED)], WEEKS, today=TODAY)
    assert found.introduced_on is None and {cell.standing for cell in found.cells} == {None}


def test_an_exercise_unseen_for_84_days_is_paused_in_the_week_it_becomes_so():
    weeks = plan.mondays(TODAY, 2)
    found = plan.row("R-FW1", [lesson(85, 4), lesson(84, 4)], weeks, today=TODAY)
    assert [cell.standing for cell in found.cells] == [Standing.OWNED, Standing.PAUSED]


def test_a_coming_lesson_stands_in_its_week_and_weeks_ahead_have_no_standing():
    weeks = plan.mondays(TODAY + timedelta(days=14), 3)
    ahead, past = TODAY + timedelta(days=8), TODAY - timedelta(days=1)
    found = plan.row("R-FW1", [], weeks, today=TODAY, planned=[ahead, past])
    assert [cell.is_planned for cell in found.cells] == [False, True, False]
    assert [cell.standing for cell in found.cells] == [None, None, None]


def test_a_grant_counts_from_its_day():
    found = plan.row("R-FW1", [], WEEKS, today=TODAY, granted=[Granted(date(2026, 3, 10), True)])
    assert [cell.standing for cell in found.cells] == [None, None, Standing.OWNED, Standing.OWNED]


def test_a_week_is_counted_by_standing_and_never_as_a_share():
    rows = [
        plan.row("R-FW1", [lesson(14, 4), lesson(7, 4)], WEEKS, today=TODAY),
        plan.row("R-FW2", [lesson(14, 3), lesson(7, 3)], WEEKS, today=TODAY),
        plan.row("R-FW3", [lesson(7, 3)], WEEKS, today=TODAY),
    ]
    assert plan.counts(rows, 0) == dict.fromkeys(Standing, 0)
    assert plan.counts(rows, 2) == {
        Standing.INTRODUCED: 1,
        Standing.WORKING: 1,
        Standing.OWNED: 1,
        Standing.PAUSED: 0,
    }


@given(st.lists(st.tuples(st.integers(0, 120), st.integers(0, 5)), max_size=10))
def test_the_last_cell_says_what_the_standing_of_today_says(lessons):
    history = [lesson(days, score) for days, score in lessons]
    weeks = plan.mondays(TODAY, 20)
    found = plan.row("R-FW1", history, weeks, today=TODAY)
    assert found.cells[-1].standing == standing(history, on=TODAY)
    assert sum(cell.times for cell in found.cells) == len(history)
    assert sum(cell.begins for cell in found.cells) == bool(history)


@given(st.lists(st.integers(0, 120), min_size=4, max_size=4), st.integers(0, 200))
def test_a_bar_stands_whole_in_its_drawing_and_no_number_upon_another(numbers, higher):
    counts = dict(zip(Standing, numbers, strict=True))
    parts = plan.bar(counts, max(sum(numbers) + higher, 1))
    assert sum(part.count for part in parts) == sum(numbers)
    foot = plan.BAR_FOOT
    for part in parts:
        assert abs(part.y + part.height - foot) < 0.02 and part.y > plan.BAR_ABOVE - 0.02
        assert part.is_low or part.y < part.text < part.y + part.height
        foot = part.y
    beside = [part.text for part in parts if part.is_low]
    assert all(lower - upper > plan.BAR_TEXT - 0.02 for lower, upper in pairwise(beside))
    assert all(text > plan.BAR_TEXT / 2 for text in beside)
