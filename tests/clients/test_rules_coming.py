"""What the days alone will change, a month ahead."""

from dataclasses import replace
from datetime import timedelta

from clients.rules import ActiveCondition, Choices, LetterTerms, Pregnancy, Side, screen
from clients.rules.coming import ComingKind, coming_changes
from clients.rules.reference import Intensity
from tests.clients.told import BOOK, ON, WELL


def ago(days):
    return ON - timedelta(days=days)


def ahead(days):
    return ON + timedelta(days=days)


def changes(**told):
    return coming_changes(replace(WELL, **told), BOOK, on=ON)


LETTER = LetterTerms("7", ago(3), ahead(12), frozenset({"leaf 5"}), None, frozenset(), frozenset())


def test_somebody_well_on_a_new_form_has_nothing_coming():
    assert changes() == ()


def test_the_next_stage_of_a_pregnancy_is_announced_with_what_it_limits_more():
    (stage,) = changes(pregnancy=Pregnancy(due_on=ahead(280 - 190)))
    assert (stage.kind, stage.day, stage.key) == (ComingKind.BEGINS, ahead(6), "begins:C21")
    # By the table: supine_flat goes from adapt to avoid, straining is adapt in both.
    assert "Flat on the back (avoid)" in stage.says
    assert BOOK.demands["straining"].name not in stage.says


def test_a_stage_31_days_ahead_is_not_announced_yet_and_one_30_days_ahead_is():
    assert changes(pregnancy=Pregnancy(due_on=ahead(280 - 196 + 31))) == ()
    assert [one.day for one in changes(pregnancy=Pregnancy(due_on=ahead(280 - 196 + 30)))] == [ahead(30)]


def test_a_stage_that_has_begun_is_not_coming_any_more():
    assert changes(pregnancy=Pregnancy(due_on=ahead(280 - 196))) == ()
    assert changes(pregnancy=Pregnancy(due_on=None)) == ()


def test_a_statement_that_counts_from_a_later_week_is_announced():
    # P26: twins, from 28 weeks 0 days (mottola2019)
    found = changes(pregnancy=Pregnancy(ahead(280 - 180), frozenset({"P26"})))
    assert {(one.key, one.day) for one in found} == {("begins:P26", ahead(16)), ("begins:C21", ahead(16))}


def test_a_window_is_announced_for_the_day_after_its_last_with_what_would_follow():
    fracture = ActiveCondition("C03", since=ago(80))
    (window,) = changes(conditions=(fracture,))
    assert (window.kind, window.day, window.key) == (ComingKind.WINDOW_ENDS, ahead(4), "window_ends:C03")
    assert BOOK.conditions["C04"].name in window.says
    assert "until a named person confirms" in window.says

    facts = replace(WELL, conditions=(fracture,))
    assert screen(facts, BOOK, on=ahead(3)).proposals == ()
    assert len(screen(facts, BOOK, on=window.day).proposals) == 1


def test_a_window_that_has_ended_or_is_held_by_pain_is_not_announced():
    assert changes(conditions=(ActiveCondition("C03", since=ago(84)),)) == ()
    assert changes(conditions=(ActiveCondition("C03", since=ago(80), is_held=True),)) == ()


def test_two_sides_are_two_changes():
    knees = tuple(ActiveCondition("C30", side, ago(80)) for side in (Side.LEFT, Side.RIGHT))
    assert {one.key for one in changes(conditions=knees)} == {"window_ends:C30:left", "window_ends:C30:right"}


def test_the_end_of_a_letter_is_announced_for_the_day_after_its_last():
    (end,) = changes(letters=(LETTER,))
    assert (end.kind, end.day, end.key) == (ComingKind.LETTER_ENDS, ahead(13), "letter_ends:7")


def test_a_letter_that_only_forbids_has_no_end_to_announce():
    assert changes(letters=(replace(LETTER, answers=frozenset(), forbids=frozenset({"kneel"})),)) == ()


def test_a_letter_that_opens_hard_work_closes_it_after_12_months():
    # riebe2015, second hand: a clearance for vigorous work is dated within 12 months.
    letter = replace(LETTER, effort=Intensity.VIGOROUS, dated=ago(360), holds_until=ahead(200))
    (end,) = changes(letters=(letter,))
    assert (end.kind, end.day, end.key) == (ComingKind.LETTER_ENDS, ahead(5), "vigorous_ends:7")


def test_the_end_of_the_form_is_announced_as_the_owner_set_it():
    old = replace(WELL, written_on=ago(160))
    shorter = Choices(lines={"screening_form.days": 183})
    assert coming_changes(old, BOOK, on=ON) == ()
    (end,) = coming_changes(old, BOOK, on=ON, choices=shorter)
    assert (end.kind, end.day) == (ComingKind.FORM_ENDS, ahead(23))


def test_the_next_change_comes_first():
    told = changes(written_on=ago(350), conditions=(ActiveCondition("C03", since=ago(80)),), letters=(LETTER,))
    assert [one.kind for one in told] == [ComingKind.WINDOW_ENDS, ComingKind.LETTER_ENDS, ComingKind.FORM_ENDS]
