"""One rule's say in a screening, with what it rests on."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from clients.rules.outcomes import Outcome
from clients.rules.reference import Rulebook, Strength


class ReasonKind(StrEnum):
    """The gate a reason comes from, in the order in which the gates are read."""

    RED_FLAG = "red_flag"
    TODAY = "today"
    PREGNANCY = "pregnancy"
    CLEARANCE_TABLE = "clearance_table"
    CONDITION = "condition"
    WINDOW = "window"
    ANSWER = "answer"
    UNANSWERED = "unanswered"


@dataclass(frozen=True)
class ScreenReason:
    """A rule that spoke, the outcome it asks for, in words for the client and the instructor, never for the desk.

    `rule_id` is the id of the row or question, `strength` the best support among its sources. `about` names the told
    facts it rests on (signs, diseases, a condition with its side and day), where more than one could call for it.
    `answered_by` is the id of the letter that answered it: it still stands in the list, and `outcome` is what is left
    of it. `chosen` is the point at which the owner chose otherwise than by default, when that touched it.
    """

    rule_id: str
    kind: ReasonKind
    outcome: Outcome
    says: str
    source_ids: tuple[str, ...]
    strength: Strength
    about: tuple[str, ...] = ()
    answered_by: str = ""
    chosen: str = ""


def reason(
    rule_id: str,
    kind: ReasonKind,
    outcome: Outcome,
    *,
    says: str,
    sources: Iterable[str],
    rulebook: Rulebook,
    about: Iterable[str] = (),
    chosen: str = "",
) -> ScreenReason:
    """A reason whose strength follows from its sources."""
    source_ids = tuple(sources)
    strength = rulebook.strength_of(source_ids)
    return ScreenReason(rule_id, kind, outcome, says, source_ids, strength, tuple(about), chosen=chosen)


def missing(rule_id: str, *, says: str, rulebook: Rulebook, chosen: str = "") -> ScreenReason:
    """A fact that is not known: never a no, so the screening is unfinished."""
    kind, sources = ReasonKind.UNANSWERED, ("studio_default",)
    return reason(rule_id, kind, Outcome.INCOMPLETE, says=says, sources=sources, rulebook=rulebook, chosen=chosen)
