"""Whether a client's form holds, in the three words of the desk; who may read more."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Subquery

from clients import models
from clients.rules.outcomes import DeskWord, Outcome, desk_word
from studio import models as studio_models
from studio.rules import Role

# The screen that reads all answers back; a draft left there lacks only the name under it.
LAST_SCREEN = "card"
FORM, SIGNATURE, LETTER = "form", "signature", "letter"


@dataclass(frozen=True)
class FormStanding:
    """What the desk knows of a health form: the word, which paper is missing, how long it holds, when it was signed.

    `missing` names papers (form, signature, letter) and never why one is asked for.
    """

    word: DeskWord
    missing: tuple[str, ...]
    valid_until: date | None
    signed_on: date | None

    @property
    def mark(self) -> str:
        """The name of its mark on screens."""
        return {DeskWord.CURRENT: "form_current", DeskWord.NOT_CURRENT: "form_not_current"}.get(self.word, "speak")


NO_FORM = FormStanding(DeskWord.NOT_CURRENT, (FORM,), None, None)
AWAITS_NAME = FormStanding(DeskWord.NOT_CURRENT, (SIGNATURE,), None, None)


def form_standings(client_ids: Collection[UUID], *, on: date) -> dict[UUID, FormStanding]:
    """Each client's standing on a local day; one query, and one more when somebody of them is not screened."""
    zone = studio_models.Studio.objects.order_by("position", "pk").values("time_zone")[:1]
    screened = models.Screening.objects.filter(client_id__in=client_ids, replaced_at=None)
    columns = ("client_id", "outcome", "valid_until", "asks_again", "form__signed_at", "zone")
    standings = {}
    rows = screened.annotate(zone=Subquery(zone)).values_list(*columns)
    for client_id, outcome, valid_until, asks_again, signed_at, name in rows:
        signed_on = signed_at.astimezone(ZoneInfo(name or "UTC")).date() if signed_at else None
        holds = on <= valid_until and not asks_again
        standings[client_id] = _standing(Outcome(outcome), valid_until, signed_on, holds=holds)
    if others := set(client_ids) - set(standings):
        standings |= _of_drafts(others)
    return standings


def _of_drafts(client_ids: Collection[UUID]) -> dict[UUID, FormStanding]:
    standings = dict.fromkeys(client_ids, NO_FORM)
    drafts = models.HealthForm.objects.filter(client_id__in=client_ids, state=models.HealthForm.State.DRAFT)
    for client_id in drafts.filter(at_screen=LAST_SCREEN).values_list("client_id", flat=True):
        standings[client_id] = AWAITS_NAME
    return standings


def _standing(outcome: Outcome, valid_until: date, signed_on: date | None, *, holds: bool) -> FormStanding:
    """`holds` says that the form is in its time and nobody asks for it again."""
    word = desk_word(outcome, is_valid=holds)
    missing: tuple[str, ...] = ()
    if word is DeskWord.NOT_CURRENT:
        missing = (FORM,) if not holds or outcome is Outcome.INCOMPLETE else (LETTER,)
    return FormStanding(word, missing, valid_until, signed_on)


def ceilings(client_ids: Collection[UUID]) -> dict[UUID, dict[str, int]]:
    """The signed level by kind of apparatus of each client; one query."""
    found: dict[UUID, dict[str, int]] = {client_id: {} for client_id in client_ids}
    rows = models.LevelCeiling.objects.filter(client_id__in=client_ids)
    for client_id, kind, level in rows.values_list("client_id", "apparatus_kind", "level"):
        found[client_id][kind] = level
    return found


def cared_for(person: studio_models.Person, *, on: date) -> frozenset[UUID]:
    """The clients whose health this instructor may read on a local day, as `may_read_health` says; one query."""
    if not person.is_active or not person.has_role(Role.INSTRUCTOR):
        return frozenset()
    return frozenset(models.Care.objects.on(on).filter(person=person).values_list("client_id", flat=True))


def may_read_health(person: studio_models.Person, client_id: UUID, *, on: date) -> bool:
    """Whether an instructor cares for this client on a local day; others need a recorded reason, the desk never may."""
    if not person.is_active or not person.has_role(Role.INSTRUCTOR):
        return False
    return models.Care.objects.on(on).filter(person=person, client_id=client_id).exists()
