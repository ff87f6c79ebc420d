"""Screening by chance: what no answer, letter, restriction or choice can ever do, whatever else is told."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import assume, given
from hypothesis import strategies as st

from clients.rules import Choices, Level, Outcome, Restriction, screen
from clients.rules.coming import ComingKind, coming_changes
from clients.rules.facts import Today, Unanswered
from clients.rules.limits import PARTS_OF_TURNED_AND_ROUNDED, TURNED_AND_ROUNDED, weighed
from clients.rules.outcomes import LEVELS
from clients.rules.screening import conditions_in_force
from tests.clients import told
from tests.clients.told import BOOK, ON, is_nowhere_looser, sided, strictness

NOT_ANSWERED = Unanswered("H09", "H09", "bones")
DAY = timedelta(days=1)


@given(told.facts, told.conditions, told.choices)
def test_one_more_condition_never_loosens_the_outcome_or_any_limit(facts, added, choices):
    facts = replace(facts, letters=())
    before = screen(facts, BOOK, on=ON, choices=choices)
    after = screen(replace(facts, conditions=(*facts.conditions, added)), BOOK, on=ON, choices=choices)
    assert is_nowhere_looser(after, before)


@given(told.facts, told.conditions, told.letters)
def test_nor_does_it_under_a_letter_that_answers_what_was_found_before(facts, added, letter):
    alone = screen(replace(facts, letters=()), BOOK, on=ON)
    facts = replace(facts, letters=(replace(letter, answers=frozenset(one.rule_id for one in alone.reasons)),))
    before = screen(facts, BOOK, on=ON)
    after = screen(replace(facts, conditions=(*facts.conditions, added)), BOOK, on=ON)
    assert is_nowhere_looser(after, before)


@given(told.facts, told.choices, st.randoms())
def test_the_order_in_which_things_are_told_does_not_matter(facts, choices, chance):
    def shuffled(told_things):
        return tuple(chance.sample(told_things, len(told_things)))

    turned = replace(
        facts,
        conditions=shuffled(facts.conditions),
        restrictions=shuffled(facts.restrictions),
        letters=shuffled(facts.letters),
    )
    assert screen(turned, BOOK, on=ON, choices=choices) == screen(facts, BOOK, on=ON, choices=choices)


@given(told.facts, told.choices)
def test_a_question_without_answer_never_ends_in_clear_whatever_a_letter_says(facts, choices):
    open_question = replace(facts, unanswered=(NOT_ANSWERED,))
    assert not screen(open_question, BOOK, on=ON, choices=choices).outcome.is_bookable


@given(told.facts, told.choices, st.sampled_from(["regularly_active", "diseases", "symptoms", "intensity"]))
def test_an_unknown_input_of_the_clearance_table_never_ends_in_clear(facts, choices, unknown):
    assert not screen(replace(facts, **{unknown: None}), BOOK, on=ON, choices=choices).outcome.is_bookable


@given(told.facts, told.choices, st.lists(told.letters, max_size=3).map(tuple))
def test_a_letter_never_makes_an_emergency_a_postponement_or_something_missing_milder(facts, choices, letters):
    alone = screen(replace(facts, letters=()), BOOK, on=ON, choices=choices)
    answered = screen(replace(facts, letters=letters), BOOK, on=ON, choices=choices)
    if alone.outcome is not Outcome.REFER:
        milder = alone.outcome is Outcome.CLEAR_LIMITED
        assert strictness(answered) == strictness(alone) or (milder and answered.outcome is Outcome.CLEAR)
    assert strictness(answered) <= strictness(alone)
    assert len(answered.reasons) == len(alone.reasons)


@given(told.facts, told.letters)
def test_a_letter_answers_only_what_it_names_and_only_an_asking_for_clearance(facts, letter):
    alone = screen(replace(facts, letters=()), BOOK, on=ON).reasons
    answered = screen(replace(facts, letters=(letter,)), BOOK, on=ON).reasons
    for before, after in zip(alone, answered, strict=True):
        if before == after:
            continue
        assert after.rule_id in letter.answers
        assert letter.holds(ON)
        assert before.outcome is Outcome.REFER or after.rule_id == "leaf 14"
        assert after == replace(before, outcome=after.outcome, answered_by=letter.letter_id)
        assert after.outcome.is_bookable


@given(told.facts, told.letters)
def test_a_letter_relaxes_only_what_it_names_and_tells_of_it(facts, letter):
    alone = screen(replace(facts, letters=()), BOOK, on=ON)
    relaxed = screen(replace(facts, letters=(replace(letter, forbids=frozenset()),)), BOOK, on=ON)
    gone = {place: level for place, level in sided(alone.limits).items() if place not in sided(relaxed.limits)}

    assert {demand for demand, _ in gone} <= letter.allows
    assert gone == sided(relaxed.relaxed)
    kept = {place: level for place, level in sided(alone.limits).items() if place not in gone}
    assert sided(relaxed.limits) == kept


@given(told.facts, told.letters)
def test_a_letter_that_does_not_hold_does_nothing_but_forbid(facts, letter):
    assume(not letter.holds(ON))
    with_letter = screen(replace(facts, letters=(letter,)), BOOK, on=ON)
    told_again = Restriction(letter.forbids, told_at=f"letter:{letter.letter_id}")
    without = screen(replace(facts, letters=(), restrictions=(*facts.restrictions, told_again)), BOOK, on=ON)
    assert with_letter.outcome is without.outcome
    assert (with_letter.limits, with_letter.relaxed) == (without.limits, ())


@given(told.facts, told.restrictions, told.letters)
def test_a_restriction_always_wins_over_what_a_letter_allows(facts, restriction, letter):
    facts = replace(facts, restrictions=(restriction,), letters=(letter,))
    found = sided(screen(facts, BOOK, on=ON).limits)
    alone = sided(weighed((), BOOK, on=ON, restrictions=(restriction,)).limits)
    for place, level in alone.items():
        assert LEVELS.index(found[place]) <= LEVELS.index(level)


@given(told.facts, told.letters)
def test_what_a_letter_forbids_is_avoided_whatever_any_letter_allows(facts, letter):
    found = sided(screen(replace(facts, letters=(*facts.letters, letter)), BOOK, on=ON).limits)
    forbidden = set(letter.forbids)
    if forbidden & set(PARTS_OF_TURNED_AND_ROUNDED):
        forbidden.add(TURNED_AND_ROUNDED)
    assert all(level is Level.AVOID for (demand, _), level in found.items() if demand in forbidden)
    assert {demand for demand, _ in found} >= forbidden


@given(told.facts, told.restrictions)
def test_one_more_restriction_never_loosens_anything(facts, added):
    before = screen(facts, BOOK, on=ON)
    after = screen(replace(facts, restrictions=(*facts.restrictions, added)), BOOK, on=ON)
    assert is_nowhere_looser(after, before)


@given(told.facts, st.sampled_from(Today))
def test_what_is_told_of_today_may_add_and_never_removes(facts, added):
    before = screen(facts, BOOK, on=ON)
    after = screen(replace(facts, today=facts.today | {added}), BOOK, on=ON)
    assert is_nowhere_looser(after, before)


@given(st.one_of(told.facts, told.measured), told.choices)
def test_a_line_the_owner_may_choose_never_makes_an_outcome_milder_than_the_stated_one(facts, choices):
    stated = screen(facts, BOOK, on=ON, choices=replace(choices, lines={}))
    chosen = screen(facts, BOOK, on=ON, choices=choices)
    assert is_nowhere_looser(chosen, stated)


@given(told.measured, st.integers(-60, 60))
def test_not_even_a_looser_line_that_got_into_the_records(facts, shift):
    chosen = Choices(lines={point.id: point.bound + shift for point in told.LINES})
    assert is_nowhere_looser(screen(facts, BOOK, on=ON, choices=chosen), screen(facts, BOOK, on=ON))


@given(st.one_of(told.facts, told.measured), told.choices)
def test_a_reason_that_a_choice_did_not_touch_bears_no_mark(facts, choices):
    stated = {replace(one, answered_by="") for one in screen(facts, BOOK, on=ON).reasons}
    for one in screen(facts, BOOK, on=ON, choices=choices).reasons:
        if not one.chosen and not one.answered_by:
            assert replace(one, answered_by="") in stated


@given(told.facts, told.choices, st.integers(1, 400))
def test_before_the_day_to_look_again_nothing_changes(facts, choices, days):
    found = screen(facts, BOOK, on=ON, choices=choices)
    later = ON + timedelta(days=days)
    assume(found.look_again_on is None or later < found.look_again_on)
    then = screen(facts, BOOK, on=later, choices=choices)
    assert (then.outcome, sided(then.limits), then.relaxed) == (found.outcome, sided(found.limits), found.relaxed)
    assert then.proposals == found.proposals


@given(told.facts, told.choices)
def test_each_change_that_is_announced_is_a_day_to_look_again(facts, choices):
    changes = coming_changes(facts, BOOK, on=ON, choices=choices)
    assert all(ON < one.day <= ON + timedelta(days=30) for one in changes)
    for one in changes:
        assert screen(facts, BOOK, on=one.day - DAY, choices=choices).look_again_on == one.day


@given(told.facts, told.choices)
def test_a_limit_that_gets_stricter_by_itself_within_a_month_was_announced(facts, choices):
    facts = replace(facts, letters=())
    begins = [one.day for one in coming_changes(facts, BOOK, on=ON, choices=choices) if one.kind is ComingKind.BEGINS]
    now = screen(facts, BOOK, on=ON, choices=choices)
    before_any = min(begins, default=ON + timedelta(days=31)) - DAY
    assert sided(screen(facts, BOOK, on=before_any, choices=choices).limits) == sided(now.limits)


@given(told.facts, st.integers(0, 400), st.integers(0, 400))
def test_no_limit_of_a_condition_or_pregnancy_loosens_as_the_days_pass(facts, sooner, later):
    first, second = (ON + timedelta(days=days) for days in sorted((sooner, later)))
    limits = [sided(_limits(facts, day)) for day in (first, second)]
    assert all(LEVELS.index(limits[1][place]) <= LEVELS.index(level) for place, level in limits[0].items())


def _limits(facts, day):
    active = conditions_in_force(facts, BOOK, on=day)
    return weighed(active, BOOK, on=day, restrictions=facts.restrictions).limits
