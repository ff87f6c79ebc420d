"""After a seizure, and after a knock to the head.

Sources: Capovilla G et al., report of the ILAE Task Force on Sports and Epilepsy, Epilepsia 57:6, 2016 (capovilla2016,
read): free of seizures for 12 months or more, any sport. Patricios JS et al., Amsterdam consensus 2023
(patricios2023; summaries, second hand): no sport while symptoms last, relative rest for the first 24 to 48 hours.
"""

import pytest

from clients.rules import ActiveCondition, Level, Outcome
from tests.published.someone import BOOK, ago, asked_to_confirm, avoided, found, levels, row_on, sources_of


@pytest.mark.parametrize(("days", "row"), [(0, "C45"), (364, "C45"), (365, "C45"), (366, "C46"), (367, "C46")])
def test_twelve_months_without_a_seizure_change_the_row(days, row):
    # capovilla2016, read: at least 12 months. A day is added so that a leap year is a whole one too.
    assert row_on("C45", days) == row


def test_within_the_year_a_neurologist_speaks_first_and_afterwards_nobody_must():
    # capovilla2016, read
    assert found(conditions=(ActiveCondition("C45", since=ago(100)),)).outcome is Outcome.REFER
    assert found(conditions=(ActiveCondition("C46", since=ago(500)),)).outcome is Outcome.CLEAR


def test_a_place_to_fall_from_is_left_out_within_the_year_and_watched_afterwards():
    # common practice, no source: the source groups sports by what a seizure there would do
    assert levels("C45")["balance"] is Level.AVOID
    assert levels("C46")["balance"] is Level.WATCH
    assert asked_to_confirm("C45", 365) == []
    assert asked_to_confirm("C45", 366) == [("C45", "C46")]


def test_a_concussion_has_no_last_day_only_a_clinicians_word():
    # patricios2023, second hand: until free of symptoms or a clinician agrees
    assert BOOK.conditions["C47"].window_days_to is None
    for days in (0, 2, 400):
        assert row_on("C47", days) == "C47"
        assert found(conditions=(ActiveCondition("C47", since=ago(days)),)).outcome is Outcome.REFER


def test_blows_and_head_down_are_left_out_after_a_concussion():
    # patricios2023, second hand, for impact; the others are common practice, no source
    assert {"impact", "inversion", "straining", "rolling"} <= avoided("C47")
    assert sources_of("C47", "impact") == ("patricios2023",)
