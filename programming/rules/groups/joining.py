"""Who may be taught in a group, and what a group never learns together (domain rule of groups; studio_practice)."""

from collections.abc import Collection, Mapping
from enum import StrEnum

from clients.rules.reference import Condition
from clients.rules.reference.rows import Basis
from programming.rules.repertoire import ExerciseRow

BY_PERMISSION = 5
# Pain of a check-in from which nobody is taught in a group that day: the one that asks for a review.
TOO_SORE = 4
COUNTED = (Basis.EVENT, Basis.ONSET)
# Twelve weeks: the longest first stretch of an injury or operation in the reference (studio_default).
FRESH_DAYS = 83
# After a birth a body is looked after by its own rules; it is no injury.
NO_INJURY = frozenset({"C22", "C22b"})


class NotYet(StrEnum):
    """Why somebody is taught alone for now, in words without a condition."""

    FIRST = "comes for the first time"
    FRESH = "has something that is still fresh"
    SORE = "is too sore today"


def not_yet(
    *, first_visit: bool, because: Collection[str], conditions: Mapping[str, Condition], pains: Collection[int]
) -> NotYet | None:
    """Why she may not join a group; None when she may.

    `because` are the condition ids her limits rest on. Fresh is what stands in a window of days that began with the
    injury, the operation or the onset itself.
    """
    if first_visit:
        return NotYet.FIRST
    if any(pain >= TOO_SORE for pain in pains):
        return NotYet.SORE
    known = (conditions[key] for key in because if key in conditions and key not in NO_INJURY)
    return NotYet.FRESH if any(is_fresh(condition) for condition in known) else None


def is_fresh(condition: Condition) -> bool:
    """Whether it is the first stretch of days after an event or an onset."""
    last = condition.window_days_to
    counted = condition.window_days_from == 0 and condition.window_basis in COUNTED
    return counted and (last is None or last <= FRESH_DAYS)


def barred(repertoire: Mapping[str, ExerciseRow], owned: Collection[str]) -> frozenset[str]:
    """Exercises of level 5 that she does not own: nobody learns them in a group."""
    return frozenset(key for key, row in repertoire.items() if row.level >= BY_PERMISSION and key not in owned)
