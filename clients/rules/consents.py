"""What a client may agree to, for how long it holds, and who may give it."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from dateutil.relativedelta import relativedelta

from clients.rules.names import name_key
from studio.rules import Reason

# Guiding touch is asked again each year; the other two hold until they are taken back (studio default).
TOUCH_HOLDS = timedelta(days=365)
# A guardian gives consent below this age (studio default; local law may say otherwise).
OF_AGE = 18
LONGEST_NAME = 120


class ConsentKind(StrEnum):
    TOUCH = "touch"
    PHOTOGRAPHS = "photographs"
    MESSAGES = "messages"


@dataclass(frozen=True)
class Giving:
    """A consent as it is told: whose, by whom, on which local day. `born_on` None is taken for somebody of age."""

    kind: str
    client_name: str
    born_on: date | None
    given_by: str
    on: date


def refusals(giving: Giving) -> list[Reason]:
    """Why this consent is not noted: `unknown_kind`, `missing`, `too_long`, `guardian_gives`."""
    if giving.kind not in set(ConsentKind):
        kinds = ", ".join(ConsentKind)
        return [Reason("unknown_kind", "Nobody is asked for that.", field="kind", allowed=kinds)]
    if not name_key(giving.given_by):
        return [Reason("missing", "Please write who gave it.", field="given_by", allowed="a name")]
    if len(giving.given_by) > LONGEST_NAME:
        return [Reason("too_long", "That is too long.", field="given_by", allowed=f"at most {LONGEST_NAME} signs")]
    if is_minor(giving.born_on, on=giving.on) and name_key(giving.given_by) == name_key(giving.client_name):
        says = "A parent or guardian gives it for somebody under 18."
        return [Reason("guardian_gives", says, field="given_by", allowed="the name of a parent or guardian")]
    return []


def is_minor(born_on: date | None, *, on: date) -> bool:
    """Whether a guardian gives consent on this day; somebody whose birthday is not known is taken for of age."""
    return born_on is not None and on < born_on + relativedelta(years=OF_AGE)


def asked_again_on(kind: str, *, given_on: date) -> date | None:
    """The day from which it is asked for again; None for what holds until it is taken back."""
    return given_on + TOUCH_HOLDS if kind == ConsentKind.TOUCH else None
