"""What may be entered from a clinician's letter, what confirming it says it does, and when a client is reminded."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules import chasing, terms
from clients.rules.reference import Intensity
from clients.rules.terms import Entered
from tests.clients.told import BOOK

ON = date(2026, 3, 16)
DAY = timedelta(days=1)
WHOLE = Entered("Ondine Marsh", "physician", dated=ON - DAY, answers=frozenset({"leaf 3"}))
ASKED = {"leaf 3", "C52"}


def codes(entered):
    return [(one.code, one.field) for one in terms.refusals(entered, asked=ASKED, demands=BOOK.demands, on=ON)]


def but(**changes):
    return terms.replace(WHOLE, **changes)


def test_every_demand_stands_in_exactly_one_group():
    listed = [demand for _, group in terms.GROUPS for demand in group]
    assert sorted(listed) == sorted(BOOK.demands) and len(listed) == 34


def test_a_written_dated_and_named_letter_is_taken():
    assert codes(WHOLE) == []


@pytest.mark.parametrize(
    ("entered", "field"),
    [(but(clinician=""), "clinician"), (but(profession=""), "profession"), (but(dated=None), "dated")],
)
def test_a_letter_that_is_not_whole_may_answer_nothing(entered, field):
    assert codes(entered) == [("not_whole", field)]


@pytest.mark.parametrize("told", [{"allows": frozenset({"rolling"})}, {"effort": Intensity.VIGOROUS}])
def test_nor_may_it_allow_anything(told):
    entered = Entered(**told)
    assert [field for code, field in codes(entered) if code == "not_whole"] == ["clinician", "profession", "dated"]


def test_an_unnamed_undated_letter_may_still_leave_movements_out():
    assert codes(Entered(forbids=frozenset({"rotation"}))) == []


@pytest.mark.parametrize(
    ("entered", "code"),
    [
        (but(dated=ON + DAY), "in_future"),
        (but(dated=ON - timedelta(days=1200)), "too_old"),
        (but(until=ON - 2 * DAY), "ends_before"),
        (but(until=ON + timedelta(days=2000)), "too_long"),
        (but(answers=frozenset({"leaf 9"})), "not_asked"),
        (but(forbids=frozenset({"no such"})), "unknown_demand"),
        (but(allows=frozenset({"rolling"}), forbids=frozenset({"rolling"})), "both"),
        (Entered("Ondine Marsh", "physician", ON), "says_nothing"),
    ],
)
def test_what_cannot_be_is_asked_back_beside_its_field(entered, code):
    found = terms.refusals(entered, asked=ASKED, demands=BOOK.demands, on=ON)
    assert [one.code for one in found] == [code]
    assert all(one.field and one.says.endswith((".", "?")) for one in found)


sets = st.frozensets(st.sampled_from(sorted(BOOK.demands)), max_size=3)


@given(sets, sets, st.sampled_from([frozenset(), frozenset({"leaf 3"})]), st.sampled_from(["", "Ondine Marsh"]))
def test_terms_without_a_name_are_taken_only_when_they_loosen_nothing(allows, forbids, answers, name):
    entered = Entered(name, "physician", ON, answers=answers, allows=allows, forbids=forbids)
    if not codes(entered):
        assert name or not (allows or answers)


def test_what_was_read_back_is_marked_so_that_any_other_term_or_deed_shows():
    does = terms.Doing(lifted=("one",))
    marks = {
        terms.mark_of(WHOLE, does),
        terms.mark_of(but(forbids=frozenset({"rolling"})), does),
        terms.mark_of(but(allows=frozenset({"rolling"})), does),
        terms.mark_of(but(words="x"), does),
        terms.mark_of(WHOLE, terms.Doing(lifted=("two",))),
    }
    assert len(marks) == 5
    shuffled = [frozenset(["rolling", "balance", "prone"]), frozenset(["prone", "rolling", "balance"])]
    assert len({terms.mark_of(but(forbids=one), does) for one in shuffled}) == 1


def due(days, reminders=0, reminded=None):
    reminded_on = None if reminded is None else ON + reminded * DAY
    return chasing.is_reminder_due(opened_on=ON, reminders=reminders, reminded_on=reminded_on, on=ON + days * DAY)


def test_a_mail_goes_after_seven_days_and_after_twenty_one_and_then_no_more():
    """Studio default."""
    assert next(day for day in range(30) if due(day)) == 7
    assert next(day for day in range(30) if due(day, reminders=1, reminded=7)) == 21
    assert not any(due(day, reminders=2, reminded=21) for day in range(400))


def test_no_mail_goes_by_itself_right_after_one_by_hand():
    assert [day for day in range(7, 12) if due(day, reminded=6)] == [9, 10, 11]


def test_the_day_told_for_the_next_mail_is_never_over_and_is_the_first_on_which_one_goes():
    for reminders, reminded in ((0, None), (0, 6), (1, 7), (1, 20)):
        for day in range(reminded or 0, 30):
            told = chasing.next_reminder(
                opened_on=ON,
                reminders=reminders,
                reminded_on=None if reminded is None else ON + reminded * DAY,
                on=ON + day * DAY,
            )
            assert told == ON + next(one for one in range(day, 60) if due(one, reminders, reminded)) * DAY


def test_after_both_mails_somebody_speaks_with_her_a_week_later():
    assert chasing.speaks_on(opened_on=ON, reminders=1, reminded_on=ON + 7 * DAY) is None
    assert chasing.speaks_on(opened_on=ON, reminders=2, reminded_on=ON + 21 * DAY) == ON + 28 * DAY
