"""Two cards of one person become one: what each field may keep, and in which order the forms stand."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from clients.rules.names import name_key
from studio.rules import Reason

LONGEST_NOTES = 2000


class Side(StrEnum):
    """Whose word stays: the card's that is kept, the other's, or (for notes) both."""

    KEPT = "kept"
    GONE = "gone"
    BOTH = "both"


@dataclass(frozen=True)
class CardField:
    """What is chosen together: its key, its word on the page, and the columns it stands in."""

    key: str
    word: str
    columns: tuple[str, ...]


FIELDS = (
    CardField("name", "Name", ("name",)),
    CardField("say_it", "How to say it", ("say_it",)),
    CardField("pronoun", "Pronoun", ("pronoun",)),
    CardField("born_on", "Born on", ("born_on",)),
    CardField("guardian", "Guardian", ("guardian_name",)),
    CardField("email", "E-mail", ("contact_id",)),
    CardField("phone", "Phone", ("phone",)),
    CardField("emergency", "In an emergency, call", ("emergency_name", "emergency_phone")),
    CardField("notes", "Notes for everyone", ("notes",)),
    CardField("home", "Usual location", ("home_id",)),
    CardField("usual", "Usually with", ("usual_instructor_id",)),
    CardField("photograph", "Photograph", ("photograph_id",)),
)
Values = Mapping[str, object]


def differing(kept: Values, gone: Values) -> tuple[CardField, ...]:
    """The fields in which the cards differ, in the order of the card."""
    return tuple(one for one in FIELDS if any(kept[name] != gone[name] for name in one.columns))


def usual_choice(field: CardField, kept: Values, gone: Values) -> Side:
    """What is proposed: the kept card's word, the other's where the kept card says nothing, both notes."""
    if not any(kept[name] for name in field.columns):
        return Side.GONE
    if field.key == "notes" and gone["notes"] and gone["notes"] != kept["notes"]:
        return Side.BOTH
    return Side.KEPT


def choice_refusals(choices: Mapping[str, str], kept: Values, gone: Values) -> list[Reason]:
    """`unknown_choice` for a side that a field cannot take, `too_long` when both notes do not fit on one card."""
    reasons = []
    for key, side in choices.items():
        known = [Side.KEPT, Side.GONE, *([Side.BOTH] if key == "notes" else [])]
        if key not in {one.key for one in FIELDS} or side not in known:
            reasons.append(Reason("unknown_choice", "Choose one of the two cards.", key, ", ".join(known)))
    if choices.get("notes") == Side.BOTH and len(_both(kept, gone)) > LONGEST_NOTES:
        says = "The two notes together are too long for one card."
        reasons.append(Reason("too_long", says, "notes", f"at most {LONGEST_NOTES} signs, or one of the two"))
    return reasons


def merged(choices: Mapping[str, str], kept: Values, gone: Values) -> dict[str, object]:
    """The columns of the kept card that change."""
    found: dict[str, object] = {}
    for field in differing(kept, gone):
        side = choices.get(field.key, usual_choice(field, kept, gone))
        if side == Side.GONE:
            found |= {name: gone[name] for name in field.columns}
        elif side == Side.BOTH:
            found["notes"] = _both(kept, gone)
    found = {name: value for name, value in found.items() if kept[name] != value}
    if "name" in found:
        found["name_key"] = name_key(str(found["name"]))[:160]
    return found


def _both(kept: Values, gone: Values) -> str:
    return "\n".join(str(notes) for notes in (kept["notes"], gone["notes"]) if notes)


@dataclass(frozen=True)
class Version:
    """One form of either card. `signed_at` is None for one that was only begun."""

    key: str
    is_kept: bool
    state: str
    signed_at: datetime | None
    saved_at: datetime


@dataclass(frozen=True)
class Forms:
    """How the forms stand on one card: each key with its number and state; `stays` is a begun form left behind."""

    numbers: Mapping[str, int]
    states: Mapping[str, str]
    stays: str


def forms_of_one(versions: Sequence[Version]) -> Forms:
    """Numbered by when they were signed, a begun one last (the kept card's). Only the newest signed form is in force.

    A newest form that was voided by a change leaves none in force: the person has told that something is different.
    """
    begun = sorted(
        (one for one in versions if one.signed_at is None), key=lambda one: (one.is_kept, one.saved_at, one.key)
    )
    signed = sorted((one for one in versions if one.signed_at), key=lambda one: (one.signed_at, one.key))
    stays = begun[0].key if len(begun) > 1 else ""
    line = [*signed, *begun[-1:]]
    states = {one.key: "replaced" for one in signed[:-1]} | {one.key: one.state for one in [*signed[-1:], *begun[-1:]]}
    return Forms({one.key: number for number, one in enumerate(line, 1)}, states, stays)
