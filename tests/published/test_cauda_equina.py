"""Signs that the nerves at the bottom of the spine are pressed.

Sources: BMJ Best Practice, cauda equina syndrome (bestpractice_ces; key recommendations read): suspect it with leg or
back pain together with recent onset (under 14 days) or worsening of a change of bladder or bowel, altered feeling in
the saddle, weakness of both legs, or a change in sexual function; refer at once. GIRFT national pathway 2024
(girft_ces, read): severe pain in both legs too. That older and steady signs, or signs without pain, ask for a doctor
and are no emergency is a default of the house.
"""

import pytest

from clients.rules import Outcome, form
from clients.rules.facts import ToldFlag
from clients.rules.form import questions
from tests.published.someone import BOOK, ON, found, outcome

FOUR = {
    "F01": ("urine", "bowels"),  # bestpractice_ces, girft_ces, read: bladder or bowel
    "F02": ("saddle",),  # bestpractice_ces, girft_ces, read: altered feeling where one sits
    "F03": ("both legs",),  # bestpractice_ces, girft_ces, read: weakness of, or pain in, both legs
    "F04": ("sexual",),  # bestpractice_ces, girft_ces, read: sexual function
}


def told(flag_id: str, word: str, where: list[str]) -> Outcome:
    answers = {"H07": "yes", "H07.where": where, "H07.conditions": ["C61"], flag_id: word}
    return max(
        (reason.outcome for reason in found(flags=form.facts(BOOK, answers, on=ON).flags).reasons),
        key=lambda one: -list(Outcome).index(one),
    )


def test_the_four_published_signs_are_the_ones_asked():
    group = {flag.id for flag in BOOK.red_flags.values() if flag.flag_group == "cauda_equina"}
    assert group == set(FOUR) == set(questions.BACK_FLAGS)
    for flag_id, words in FOUR.items():
        assert all(word in BOOK.red_flags[flag_id].question for word in words)
        assert {"bestpractice_ces", "girft_ces"} <= set(BOOK.red_flags[flag_id].source_ids)


def test_the_fourteen_days_are_in_the_answer_itself():
    # bestpractice_ces, read: under 14 days. The house counts the 14th day in, which is the stricter reading.
    words = {choice.value: choice.label for choice in questions.WHEN_OF_BACK_FLAG}
    assert words["new"] == "Yes, new in the last 14 days or getting worse"
    assert all("within 14 days" in BOOK.red_flags[flag_id].needs_also for flag_id in FOUR)


@pytest.mark.parametrize("flag_id", sorted(FOUR))
@pytest.mark.parametrize(
    ("word", "where", "expected"),
    [
        ("new", ["lower_back"], Outcome.EMERGENCY),
        ("new", ["upper_back"], Outcome.EMERGENCY),
        ("new", ["leg"], Outcome.EMERGENCY),  # bestpractice_ces, read: leg pain counts as back pain does
        ("new", ["neck", "leg"], Outcome.EMERGENCY),
        ("old", ["lower_back"], Outcome.REFER),  # a default of the house
        ("new", ["neck"], Outcome.REFER),  # a default of the house
        ("new", ["arm"], Outcome.REFER),  # a default of the house
        ("no", ["lower_back"], Outcome.CLEAR),
    ],
)
def test_each_sign_is_an_emergency_with_pain_of_back_or_leg_when_new_or_worse(flag_id, word, where, expected):
    assert told(flag_id, word, where) is expected


@pytest.mark.parametrize("flag_id", sorted(FOUR))
def test_not_knowing_whether_it_is_new_counts_as_new(flag_id):
    # A default of the house: what is not known is never a no
    assert outcome(flags=(ToldFlag(flag_id, None),)) is Outcome.EMERGENCY
    assert outcome(flags=(ToldFlag(flag_id, True),)) is Outcome.EMERGENCY
    assert outcome(flags=(ToldFlag(flag_id, False),)) is Outcome.REFER
