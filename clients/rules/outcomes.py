"""The words a screening ends in, and how strict each is."""

from collections.abc import Collection, Iterable, Mapping
from enum import StrEnum

from clients.rules.reference.rows import Level

__all__ = ["DeskWord", "Level", "Outcome", "RowStatus", "desk_word", "row_status", "strictest", "strictest_level"]


class Outcome(StrEnum):
    """How a screening ends, strictest first."""

    EMERGENCY = "emergency"
    POSTPONE = "postpone"
    REFER = "refer"
    INCOMPLETE = "incomplete"
    CLEAR_LIMITED = "clear_limited"
    CLEAR = "clear"

    @property
    def is_bookable(self) -> bool:
        """Whether a lesson may be held at all."""
        return self in (Outcome.CLEAR, Outcome.CLEAR_LIMITED)


class DeskWord(StrEnum):
    """All that the desk is shown of an outcome."""

    CURRENT = "form current"
    NOT_CURRENT = "form not current"
    SPEAK = "speak to the instructor"


class RowStatus(StrEnum):
    """What a repertoire row is for a client, strictest first. Clear means nothing found, never safe."""

    BLOCKED = "blocked"
    ADAPT = "adapt"
    WATCH = "watch"
    CLEAR = "clear"


OUTCOMES = tuple(Outcome)
LEVELS = tuple(Level)


def strictest(outcomes: Iterable[Outcome]) -> Outcome:
    """The strictest of the outcomes; clear when there are none."""
    return min(outcomes, key=OUTCOMES.index, default=Outcome.CLEAR)


def strictest_level(levels: Iterable[Level]) -> Level | None:
    """The strictest of the levels, or None when there are none."""
    return min(levels, key=LEVELS.index, default=None)


def desk_word(outcome: Outcome, *, is_valid: bool) -> DeskWord:
    """What the desk sees; `is_valid` says whether the form behind the outcome still holds on the day asked about."""
    if outcome in (Outcome.EMERGENCY, Outcome.POSTPONE):
        return DeskWord.SPEAK
    return DeskWord.CURRENT if outcome.is_bookable and is_valid else DeskWord.NOT_CURRENT


def row_status(
    row_demands: Collection[str],
    removable: Collection[str],
    regression_adds: Collection[str],
    levels: Mapping[str, Level],
) -> RowStatus:
    """What a row is for a client with these levels by demand.

    `removable` are the demands that the row's usual regression takes away, `regression_adds` those it brings in.
    """
    avoided = {demand for demand in row_demands if levels.get(demand) is Level.AVOID}
    is_stuck = not avoided <= set(removable)
    adds_another = any(levels.get(demand) is Level.AVOID for demand in regression_adds)
    if avoided and (is_stuck or adds_another):
        return RowStatus.BLOCKED
    if avoided or any(levels.get(demand) is Level.ADAPT for demand in row_demands):
        return RowStatus.ADAPT
    if any(demand in levels for demand in row_demands):
        return RowStatus.WATCH
    return RowStatus.CLEAR
