"""A place in a lesson: the kinds of lesson, the states a place goes through, and what a cancellation costs."""

from datetime import UTC, datetime, timedelta
from enum import StrEnum

from studio.rules import Reason, Span

LEAST_MINUTES = 5
MOST_MINUTES = 240


class LessonKind(StrEnum):
    PRIVATE = "private"
    DUET = "duet"
    SMALL_GROUP = "small_group"

    @property
    def words(self) -> str:
        """As it stands on a screen: "small group"."""
        return self.value.replace("_", " ")


# Common practice, no source: more than six on machines cannot be seen by one teacher.
SEATS: dict[LessonKind, tuple[int, int]] = {
    LessonKind.PRIVATE: (1, 1),
    LessonKind.DUET: (2, 2),
    LessonKind.SMALL_GROUP: (3, 6),
}


class PlaceState(StrEnum):
    BOOKED = "booked"
    HERE = "here"
    CANCELLED = "cancelled"
    CANCELLED_LATE = "cancelled_late"
    MISSED = "missed"

    @property
    def words(self) -> str:
        """As it stands on a screen: "cancelled late"."""
        return self.value.replace("_", " ")


# Somebody two minutes behind is at the door, not late (common practice, no source).
GRACE = timedelta(minutes=2)

HOLDING = (PlaceState.BOOKED, PlaceState.HERE)
"""The states in which a place holds its seat, its machine and its client's time."""

TRANSITIONS: dict[PlaceState, frozenset[PlaceState]] = {
    PlaceState.BOOKED: frozenset(
        {PlaceState.HERE, PlaceState.CANCELLED, PlaceState.CANCELLED_LATE, PlaceState.MISSED},
    ),
    PlaceState.HERE: frozenset({PlaceState.BOOKED}),
    PlaceState.CANCELLED: frozenset({PlaceState.BOOKED}),
    # The owner may forgive a late one; nobody may make a timely one late.
    PlaceState.CANCELLED_LATE: frozenset({PlaceState.BOOKED, PlaceState.CANCELLED}),
    # Marked missed, then through the door ten minutes late.
    PlaceState.MISSED: frozenset({PlaceState.BOOKED, PlaceState.HERE}),
}


def may_become(state: PlaceState, wanted: PlaceState) -> bool:
    return wanted in TRANSITIONS[state]


def undone(state: PlaceState) -> PlaceState | None:
    """What undo makes of a place: booked again; None when it is only booked and nothing happened yet."""
    return None if state is PlaceState.BOOKED else PlaceState.BOOKED


def takes_hold_again(state: PlaceState, wanted: PlaceState) -> bool:
    """Whether the change claims seat, machine and time anew, so that the booking rules must be asked again."""
    return state not in HOLDING and wanted in HOLDING


def transition_refusals(state: PlaceState, wanted: PlaceState, *, span: Span, now: datetime) -> list[Reason]:
    """Why a place of the lesson over `span` may not go from `state` to `wanted` at `now`; empty when it may."""
    if not may_become(state, wanted):
        allowed = sorted(other.words for other in TRANSITIONS[state])
        says = f"This place is {state.words}; it cannot become {wanted.words}."
        return [Reason("state_not_allowed", says, "state", f"It may become {_either(allowed)}.")]
    if wanted is PlaceState.MISSED and now < span.start:
        says = "The lesson has not started, so nobody has missed it yet."
        return [Reason("not_started", says, "state", "Cancel the place, or wait until the lesson starts.")]
    cancelling = wanted in (PlaceState.CANCELLED, PlaceState.CANCELLED_LATE) and state is PlaceState.BOOKED
    if cancelling and now >= span.end:
        says = "The lesson is over, so it cannot be cancelled any more."
        return [Reason("lesson_over", says, "state", "Mark the place here or missed.")]
    return []


def late_minutes(state: PlaceState, span: Span, now: datetime) -> int:
    """How many minutes somebody who is expected has been waited for; 0 for whom it is not late, or no longer."""
    if state is not PlaceState.BOOKED or not span.start + GRACE < now < span.end:
        return 0
    return int((now - span.start).total_seconds() // 60)


def cancel_cutoff(lesson_start: datetime, cutoff_hours: float) -> datetime:
    """The last instant (UTC) at which cancelling is on time; elapsed hours, also across a clock change."""
    return lesson_start.astimezone(UTC) - timedelta(hours=cutoff_hours)


def state_on_cancel(now: datetime, lesson_start: datetime, cutoff_hours: float) -> PlaceState:
    """What a place becomes when it is cancelled at `now`; exactly at the cutoff is still on time."""
    on_time = now.astimezone(UTC) <= cancel_cutoff(lesson_start, cutoff_hours)
    return PlaceState.CANCELLED if on_time else PlaceState.CANCELLED_LATE


def seat_refusals(kind: LessonKind, seats: int) -> list[Reason]:
    """Why a lesson of this kind cannot have so many seats."""
    least, most = SEATS[kind]
    if least <= seats <= most:
        return []
    allowed = f"{least} seat" + ("s" if least > 1 else "") if least == most else f"{least} to {most} seats"
    return [Reason("seats", f"A {kind.words} lesson cannot have {seats} seats.", "seats", f"{allowed}.")]


def length_refusals(span: Span) -> list[Reason]:
    """Why a lesson cannot be so short or so long; elapsed minutes."""
    if LEAST_MINUTES <= span.minutes <= MOST_MINUTES:
        return []
    says = f"A lesson of {span.minutes:g} minutes is too {'short' if span.minutes < LEAST_MINUTES else 'long'}."
    return [Reason("lesson_length", says, "minutes", "From 5 minutes to 4 hours.")]


def kind_of_seats(seats: int) -> LessonKind:
    """The kind of lesson with so many seats. Raises ValueError when there is none."""
    for kind, (least, most) in SEATS.items():
        if least <= seats <= most:
            return kind
    raise ValueError(f"no kind of lesson has {seats} seats")


def _either(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
