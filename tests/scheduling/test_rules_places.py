"""Kinds of lesson, the states of a place, and what a cancellation costs."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduling.rules import places
from scheduling.rules.places import LessonKind, PlaceState
from studio.rules import Span

NINE = datetime(2026, 3, 16, 9, tzinfo=UTC)
LESSON = Span(NINE, NINE + timedelta(minutes=55))
BEFORE, DURING, AFTER = NINE - timedelta(hours=1), NINE + timedelta(minutes=10), NINE + timedelta(hours=1)


def codes(state: PlaceState, wanted: PlaceState, now: datetime) -> list[str]:
    return [reason.code for reason in places.transition_refusals(state, wanted, span=LESSON, now=now)]


def test_booked_and_here_hold_the_machine_and_nothing_else_does():
    assert places.HOLDING == (PlaceState.BOOKED, PlaceState.HERE)


@pytest.mark.parametrize(("minutes", "late"), [(-5, 0), (0, 0), (2, 0), (3, 3), (54, 54), (55, 0), (90, 0)])
def test_somebody_expected_is_late_from_the_third_minute_to_the_end_of_the_lesson(minutes, late):
    assert places.late_minutes(PlaceState.BOOKED, LESSON, NINE + timedelta(minutes=minutes)) == late


@pytest.mark.parametrize("state", [state for state in PlaceState if state is not PlaceState.BOOKED])
def test_whoever_is_here_or_not_expected_any_more_is_not_late(state):
    assert places.late_minutes(state, LESSON, DURING) == 0


@pytest.mark.parametrize("state", [state for state in PlaceState if state is not PlaceState.BOOKED])
def test_every_state_can_be_undone_to_booked(state):
    assert places.undone(state) is PlaceState.BOOKED
    assert places.may_become(state, PlaceState.BOOKED)


def test_a_place_only_booked_has_nothing_to_undo():
    assert places.undone(PlaceState.BOOKED) is None


def test_a_client_ticked_as_here_cannot_be_cancelled_without_undo():
    reasons = places.transition_refusals(PlaceState.HERE, PlaceState.CANCELLED, span=LESSON, now=DURING)
    assert [reason.code for reason in reasons] == ["state_not_allowed"]
    assert reasons[0].allowed == "It may become booked."


def test_a_missed_client_may_still_come_through_the_door():
    assert codes(PlaceState.MISSED, PlaceState.HERE, DURING) == []


def test_a_late_cancellation_may_be_forgiven_and_a_timely_one_never_made_late():
    assert codes(PlaceState.CANCELLED_LATE, PlaceState.CANCELLED, AFTER) == []
    assert codes(PlaceState.CANCELLED, PlaceState.CANCELLED_LATE, AFTER) == ["state_not_allowed"]


def test_nobody_misses_a_lesson_before_it_starts():
    assert codes(PlaceState.BOOKED, PlaceState.MISSED, BEFORE) == ["not_started"]
    assert codes(PlaceState.BOOKED, PlaceState.MISSED, NINE) == []


def test_a_lesson_that_is_over_cannot_be_cancelled():
    assert codes(PlaceState.BOOKED, PlaceState.CANCELLED_LATE, AFTER) == ["lesson_over"]
    assert codes(PlaceState.BOOKED, PlaceState.CANCELLED_LATE, DURING) == []


def test_undoing_a_cancellation_claims_the_machine_anew_and_undoing_a_tick_does_not():
    assert places.takes_hold_again(PlaceState.CANCELLED, PlaceState.BOOKED)
    assert not places.takes_hold_again(PlaceState.HERE, PlaceState.BOOKED)


def test_cancelling_exactly_at_the_cutoff_is_on_time_and_a_second_later_is_late():
    cutoff = NINE - timedelta(hours=12)
    assert places.state_on_cancel(cutoff, NINE, 12) is PlaceState.CANCELLED
    assert places.state_on_cancel(cutoff + timedelta(seconds=1), NINE, 12) is PlaceState.CANCELLED_LATE


def test_the_cutoff_counts_elapsed_hours_across_a_clock_change():
    # IANA tz, Europe/Dublin: the clocks go forward on 28 March 2027
    dublin = ZoneInfo("Europe/Dublin")
    start = datetime(2027, 3, 28, 9, tzinfo=dublin)
    assert places.cancel_cutoff(start, 12).astimezone(dublin).hour == 20
    assert places.state_on_cancel(datetime(2027, 3, 27, 20, 30, tzinfo=dublin), start, 12) is PlaceState.CANCELLED_LATE


@pytest.mark.parametrize(
    ("kind", "least", "most"),
    [(LessonKind.PRIVATE, 1, 1), (LessonKind.DUET, 2, 2), (LessonKind.SMALL_GROUP, 3, 6)],
)
def test_each_kind_of_lesson_has_its_number_of_seats(kind, least, most):
    # common practice, no source
    fitting = [seats for seats in range(10) if not places.seat_refusals(kind, seats)]
    assert fitting == list(range(least, most + 1))
    assert all(places.kind_of_seats(seats) is kind for seats in fitting)


def test_no_kind_of_lesson_has_seven_seats():
    assert [reason.code for reason in places.seat_refusals(LessonKind.SMALL_GROUP, 7)] == ["seats"]
    with pytest.raises(ValueError, match="7"):
        places.kind_of_seats(7)


@pytest.mark.parametrize(("minutes", "fits"), [(4, False), (5, True), (52, True), (240, True), (241, False)])
def test_a_lesson_lasts_from_five_minutes_to_four_hours(minutes, fits):
    refusals = places.length_refusals(Span(NINE, NINE + timedelta(minutes=minutes)))
    assert [reason.code for reason in refusals] == ([] if fits else ["lesson_length"])
