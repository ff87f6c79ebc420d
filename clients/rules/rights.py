"""A client's rights: what the house holds of her, what goes when her record is erased and what stays, and why."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from studio.rules import Reason

# Nothing that could be read as another letter or a number.
PSEUDONYM_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ"
LONGEST_WHY = 200


class Fate(StrEnum):
    """What erasing does to the rows of a table."""

    GONE = "gone"
    BLANKED = "blanked"
    KEPT = "kept"


@dataclass(frozen=True)
class Holding:
    """A table with a path to a client, named as Django labels it; `what` are its rows in words.

    `why` says what a kept row is for. Its sealed columns are emptied in any case.
    """

    table: str
    what: str
    fate: Fate
    why: str = ""


# In the order of erasing: a row goes before what it points at.
HOLDINGS = (
    Holding("clients.letter", "letters of clinicians", Fate.GONE),
    Holding("clients.storedfile", "kept files and photographs", Fate.GONE),
    Holding("clients.letterrequest", "letters that are waited for", Fate.GONE),
    Holding("clients.coming", "changes found ahead", Fate.GONE),
    Holding("clients.screening", "screenings", Fate.GONE),
    Holding("clients.restriction", "restrictions", Fate.GONE),
    Holding("clients.restreading", "readings of blood pressure and pulse", Fate.GONE),
    Holding("clients.conditionrecord", "conditions", Fate.GONE),
    Holding("clients.consent", "consents", Fate.GONE),
    Holding("clients.healthform", "health forms", Fate.GONE),
    Holding("clients.formlink", "links to the form", Fate.GONE),
    Holding("clients.rulerunline", "lines of rule comparisons", Fate.GONE),
    Holding("clients.review", "reviews", Fate.GONE),
    Holding("clients.levelceiling", "signed levels", Fate.GONE),
    Holding("clients.care", "who may read", Fate.GONE),
    Holding("clients.merge", "records of merged cards", Fate.GONE),
    Holding("programming.ownership", "standing with each exercise", Fate.GONE),
    Holding("programming.grant", "exercises granted and withdrawn", Fate.GONE),
    Holding("programming.stepdecision", "decisions on what comes next", Fate.GONE),
    Holding("programming.waiver", "prerequisites set aside", Fate.GONE),
    Holding("programming.body", "notes of build and lengths", Fate.GONE),
    Holding("programming.checkin", "check-ins before lessons", Fate.GONE),
    Holding("clients.client", "the card", Fate.BLANKED, "a row without a name, for the lessons that were given"),
    Holding("scheduling.itemhold", "boxes, poles and bars held", Fate.KEPT, "how full the shared items were"),
    Holding("scheduling.place", "places in lessons", Fate.KEPT, "how full machines and teachers were"),
    Holding(
        "programming.program", "programs", Fate.KEPT, "which templates were used; what was changed for this body goes"
    ),
    Holding("programming.programline", "lines of programs", Fate.KEPT, "which exercises were planned"),
    Holding("programming.log", "lesson logs", Fate.KEPT, "which lessons were taught; the notes go"),
    Holding("programming.logline", "lines of lesson logs", Fate.KEPT, "which exercises were done; the notes go"),
)
OF_TABLE = {holding.table: holding for holding in HOLDINGS}


def pseudonym(letters: str) -> str:
    """The name on the card of an erased client."""
    return f"Erased client {letters}"


@dataclass(frozen=True)
class Erasing:
    """What is known when the owner asks to erase; `coming` are lessons that are still booked, in words."""

    name: str
    typed: str
    why: str
    is_erased: bool
    is_merged: bool
    coming: Sequence[str]


def erasing_refusals(facts: Erasing) -> list[Reason]:
    """Why this client may not be erased now: empty when she may."""
    if facts.is_erased:
        return [Reason("erased", "This client's record was erased already.")]
    if facts.is_merged:
        says = "This card was merged into another one. Erase that card: both go together."
        return [Reason("merged", says, allowed="the card that was kept")]
    reasons = []
    if facts.coming:
        says = f"Still booked: {'; '.join(facts.coming)}. Cancel these lessons first, so that nobody waits in vain."
        reasons.append(Reason("still_booked", says, allowed="cancel them on the day sheet"))
    if _plain(facts.typed) != _plain(facts.name):
        reasons.append(Reason("typed", "That is not the name on the card.", "typed", "the name as it stands above"))
    return [*reasons, *why_refusals(facts.why, facts.name)]


def why_refusals(why: str, name: str) -> list[Reason]:
    """A reason is asked, and kept for good: so it is short and does not name the client."""
    if not why.strip():
        return [Reason("missing", "Say why; it is kept with your name.", "why", "a few words")]
    if len(why) > LONGEST_WHY:
        return [Reason("too_long", "That is too long.", "why", f"at most {LONGEST_WHY} signs")]
    if any(len(part) > 2 and part in _plain(why).split() for part in _plain(name).split()):
        says = "The reason stays on record after the name is gone, so leave the name out of it."
        return [Reason("names_her", says, "why", "the reason without the name")]
    return []


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())
