"""What was felt at a line. When a review is called: programs, section 11 (common practice, no source)."""

import pytest

from programming.rules.felt import SYMPTOMS, Felt, asks_review, refusals
from tests import reference


def codes(felt: Felt, days_ago: int = 0) -> list[str]:
    return [reason.code for reason in refusals(felt, days_ago=days_ago)]


def test_nothing_felt_is_nothing_and_has_no_words():
    assert Felt().is_nothing and Felt(pain=0).is_nothing
    assert Felt(pain=0).words == ""
    assert not Felt(symptom="numb").is_nothing


def test_what_was_felt_is_said_in_words():
    assert Felt(3, "pinching", True).words == "pain 3 of 10, pulling or pinching, still there the day after"


def test_words_that_may_be_a_stop_sign_name_a_row_of_the_stop_signs():
    rows = {row["id"] for row in reference.tables()["stop_signs"]}
    named = {one.stop_sign for one in SYMPTOMS.values() if one.stop_sign}
    assert named and named <= rows
    assert Felt(symptom="dizzy").stop_sign == "X02" and Felt(symptom="sore").stop_sign == ""


@pytest.mark.parametrize(
    ("felt", "days_ago", "code"),
    [
        (Felt(11), 0, "pain"),
        (Felt(-1), 0, "pain"),
        (Felt(symptom="itch"), 0, "symptom"),
        (Felt(2, lasting=True), 0, "too_early"),
        (Felt(2), 29, "too_late"),
    ],
)
def test_what_cannot_be_kept_is_refused(felt, days_ago, code):
    assert codes(felt, days_ago) == [code]


def test_the_day_after_and_the_last_day_are_open():
    assert codes(Felt(2, lasting=True), 1) == [] and codes(Felt(2), 28) == []


@pytest.mark.parametrize(
    ("felt", "days_ago", "calls"),
    [
        (Felt(3), 0, False),
        (Felt(4), 0, True),
        (Felt(1, lasting=True), 7, False),
        (Felt(1, lasting=True), 8, True),
        (Felt(1), 8, False),
    ],
)
def test_pain_of_four_or_over_a_week_calls_a_review(felt, days_ago, calls):
    assert asks_review(felt, days_ago=days_ago) is calls
