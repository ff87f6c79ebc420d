"""Standing and proposals from the log. The gates are common practice, no source."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programming.rules.marks import Decision, Mark, Standing
from programming.rules.progress import Entry, Granted, Step, proposal, standing, together

FIRST = date(2026, 3, 2)
TODAY = FIRST + timedelta(days=60)


def history(*scores, **last):
    """One lesson a week with these scores; `last` changes the last entry."""
    entries = [Entry(FIRST + timedelta(weeks=week), Mark.DONE, score) for week, score in enumerate(scores)]
    if last:
        entries[-1] = Entry(**{"on": entries[-1].on, "mark": Mark.DONE, "score": entries[-1].score, **last})
    return entries


def test_an_exercise_never_practised_has_no_standing():
    assert standing([], on=TODAY) is None
    assert standing(history(4, mark=Mark.SKIPPED), on=TODAY) is None


def test_one_lesson_introduces_and_a_second_makes_it_working():
    assert standing(history(3), on=TODAY) is Standing.INTRODUCED
    assert standing(history(3, 3), on=TODAY) is Standing.WORKING


def test_four_or_better_in_two_lessons_running_is_owned():
    assert standing(history(3, 4, 5), on=TODAY) is Standing.OWNED
    assert standing(history(4, 3, 4), on=TODAY) is Standing.WORKING


def test_fewer_repetitions_count_and_a_changed_form_does_not():
    assert standing(history(4, 4, mark=Mark.FEWER), on=TODAY) is Standing.OWNED
    assert standing(history(4, 4, mark=Mark.CHANGED), on=TODAY) is Standing.WORKING


def test_a_lesson_without_a_score_neither_extends_nor_breaks_a_run():
    assert standing(history(4, None, 4), on=TODAY) is Standing.OWNED


def test_what_is_owned_stays_owned_through_one_poor_lesson_and_not_through_hands_twice():
    assert standing(history(4, 4, 2), on=TODAY) is Standing.OWNED
    assert standing(history(4, 4, 1, 1), on=TODAY) is Standing.WORKING


@pytest.mark.parametrize(("days", "expected"), [(83, Standing.OWNED), (84, Standing.PAUSED)])
def test_an_exercise_unseen_for_84_days_is_paused(days, expected):
    entries = history(4, 4)
    assert standing(entries, on=entries[-1].on + timedelta(days=days)) is expected


def test_lessons_after_the_day_asked_for_do_not_count():
    assert standing(history(4, 4), on=FIRST) is Standing.INTRODUCED


def test_a_senior_teacher_may_grant_and_withdraw():
    entries = history(4, 4)
    assert standing(history(2), on=TODAY, granted=[Granted(TODAY, True)]) is Standing.OWNED
    assert standing(entries, on=TODAY, granted=[Granted(TODAY, False)]) is Standing.WORKING


def test_two_clean_lessons_propose_to_advance_with_the_lessons_as_evidence():
    entries = history(3, 4, 4)
    found = proposal(entries, level=2)
    assert (found.step, found.evidence) == (Step.ADVANCE, tuple(entries[1:]))


@pytest.mark.parametrize(("level", "step"), [(3, Step.ADVANCE), (4, Step.REPEAT), (5, Step.REPEAT)])
def test_levels_four_and_five_ask_for_three_clean_lessons(level, step):
    assert proposal(history(3, 4, 4), level=level).step is step
    assert proposal(history(4, 4, 4), level=level).step is Step.ADVANCE


def test_two_and_three_repeat():
    assert proposal(history(2, 3), level=1).step is Step.REPEAT


@pytest.mark.parametrize("last", [{"symptom": True}, {"pain": 1}])
def test_a_symptom_that_day_or_the_next_holds_the_advance_back(last):
    assert proposal(history(4, 4, **last), level=1).step is Step.REPEAT


@pytest.mark.parametrize(
    ("entries", "because"),
    [
        (history(1, 1), "needed hands twice running"),
        (history(5, 5, pain=3), "pain of 3 out of 10"),
        (history(5, 5, lasting=True), "symptoms past the next day"),
    ],
)
def test_hands_twice_pain_of_three_and_lasting_symptoms_step_back(entries, because):
    found = proposal(entries, level=1)
    assert (found.step, found.because) == (Step.STEP_BACK, because)


def test_hands_once_repeats():
    assert proposal(history(3, 1), level=1).step is Step.REPEAT


@given(st.lists(st.integers(0, 5), max_size=12), st.integers(1, 5))
def test_an_advance_is_proposed_only_for_what_is_owned(scores, level):
    entries = history(*scores)
    found = proposal(entries, level=level)
    if found and found.step is Step.ADVANCE:
        assert standing(entries, on=entries[-1].on) is Standing.OWNED


def test_the_studios_words():
    assert [decision.words for decision in Decision] == ["as planned", "adapted", "swapped", "left out"]
    assert [mark.words for mark in Mark] == ["done", "fewer", "changed", "skipped"]
    assert [word.words for word in Standing] == ["introduced", "working", "owned", "paused"]


def test_two_lines_of_one_lesson_are_one_lesson_with_its_lowest_score():
    lines = [Entry(FIRST, Mark.DONE, 5), Entry(FIRST, Mark.FEWER, 4, pain=2), Entry(FIRST, Mark.SKIPPED)]
    assert together(lines) == Entry(FIRST, Mark.DONE, 4, pain=2)
    assert standing([together(lines)], on=TODAY) is Standing.INTRODUCED


def test_a_lesson_that_skipped_every_line_skipped_the_exercise():
    assert together([Entry(FIRST, Mark.SKIPPED)] * 2) == Entry(FIRST, Mark.SKIPPED)
    with pytest.raises(ValueError, match="at least one"):
        together([])


def test_the_score_of_a_changed_form_does_not_stand_in_for_the_own_form():
    lines = [Entry(FIRST, Mark.CHANGED, 1), Entry(FIRST, Mark.DONE, 4, symptom=True)]
    assert together(lines) == Entry(FIRST, Mark.DONE, 4, symptom=True)
    assert together(lines[:1]) == lines[0]


def test_an_entry_says_itself_in_words():
    assert Entry(FIRST, Mark.DONE, 4).words == "done, 4 of 5"
    assert Entry(FIRST, Mark.FEWER, 3, pain=2, symptom=True, lasting=True).words == (
        "fewer, 3 of 5, pain 2 of 10, still there the day after"
    )
    assert Entry(FIRST, Mark.CHANGED, symptom=True).words == "changed, something felt"
    assert Entry(FIRST, Mark.SKIPPED, pain=0).words == "skipped"


def test_a_repeat_goes_on_and_other_steps_begin_anew():
    assert [step.changes_the_form for step in Step] == [True, False, True]
