"""A health form is signed: nothing missing, nothing in doubt, and as it was read; then the rules look at it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction

from clients import models
from clients.actions import consents, drafts, links, locks, screening
from clients.actions.drafts import Begun, Hand
from clients.queries.standings import LAST_SCREEN
from clients.rules import form as rules
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused

State = models.HealthForm.State


@dataclass(frozen=True)
class Read:
    """Which version of the answers and of the rules the card showed that is signed."""

    saves: int
    rules_id: int


@dataclass(frozen=True)
class Signature:
    """What stands under a form: the name, as whom, the day written on a paper form, and for each consent that was
    answered whether it is given."""

    name: str
    signed_as: str
    on_paper_of: date | None = None
    consents: Mapping[str, bool] = field(default_factory=dict)


def sign_form(
    token: str,
    *,
    name: str,
    now: datetime,
    signed_as: str = "",
    on_paper_of: date | None = None,
    consents: Mapping[str, bool] | None = None,
    read: Read | None = None,
    by: studio_models.Person | None = None,
) -> models.Screening:
    """Sign what was saved, screen it and close the link.

    A form typed in as told is signed as told to staff. Raises LinkGone; Refused `nothing_saved`, `emergency`,
    `unanswered` and `doubt` (the field is the screen to go to), `missing` for a signature without a name,
    `guardian_signs` for a minor, `paper_day`, `changed_meanwhile` when the card read is not the one that would be
    signed, `told_change` when a re-check told of one.
    """
    with transaction.atomic():
        link = links.locked(token, now=now, by=by)
        form, hand = drafts.begun(link.client, link, now=now), Hand(link.told_to)
        if form.draft is None:
            raise Refused(Reason("nothing_saved", "There is nothing to sign yet.", allowed="at least one answer"))
        if read is not None and (read.saves, read.rules_id) != (form.saved, form.rules_id):
            raise Refused(_changed_meanwhile(form, read))
        under = Signature(name, "staff" if hand.by else signed_as, on_paper_of if hand.by else None, consents or {})
        result = _sign(form, under, hand, now)
        models.FormLink.objects.filter(client=link.client, ended_at=None).update(ended_at=now)
    return result


def write_form(
    client_id: UUID,
    *,
    answers: Mapping[str, Any],
    name: str,
    signed_as: str = "staff",
    by: studio_models.Person | None,
    now: datetime,
) -> models.Screening:
    """A whole form as told to staff: the next version, signed and screened. Raises Refused as `sign_form` does."""
    with transaction.atomic():
        client = locks.client(client_id)
        form, hand = drafts.begun(client, None, now=now), Hand(by)
        form = replace(form, answers=dict(answers))
        form = replace(form, draft=drafts.keep(form, at_screen=LAST_SCREEN, hand=hand, now=now))
        return _sign(form, Signature(name, signed_as), hand, now)


def _sign(form: Begun, under: Signature, hand: Hand, now: datetime) -> models.Screening:
    draft, client = form.draft, form.client
    assert draft is not None
    under = replace(under, name=" ".join(under.name.replace("\x00", "").split())[:120])
    if reasons := _why_not_signed(form, under):
        raise Refused(reasons)
    client.health_forms.filter(state=State.SIGNED).update(state=State.REPLACED)
    draft.state, draft.signed_at, draft.signed_name, draft.signed_as = State.SIGNED, now, under.name, under.signed_as
    draft.kind, draft.told_to, draft.on_paper_of = form.kind, hand.by, under.on_paper_of
    # A re-check confirms the whole form of that day and does not make it younger.
    draft.whole_on = form.walk.told_on or under.on_paper_of or form.walk.on
    draft.sealed_answers = drafts.sealed_answers(form, draft)
    draft.save()
    audit.wrote("sign_form", draft, by=hand.by, now=now, actor=hand.actor, client_key=client.pk)
    result = screening.store(client, draft, form.answers, now=now, by=hand.by, actor=hand.actor)
    _note_consents(client, draft, under, hand, now)
    return result


def _note_consents(
    client: models.Client, draft: models.HealthForm, under: Signature, hand: Hand, now: datetime
) -> None:
    for kind, is_given in under.consents.items():
        if is_given:
            consents.give_consent(client.pk, kind=kind, given_by=under.name, by=hand.by, now=now, form=draft)
        else:
            consents.withdraw_consent(client.pk, kind=kind, by=hand.by, now=now)


def _why_not_signed(form: Begun, under: Signature) -> list[Reason]:
    walk, client, is_told = form.walk, form.client, under.signed_as == "staff"
    if not is_told and rules.is_emergency(walk.rulebook, form.answers, on=walk.on, born_on=client.born_on):
        return [Reason("emergency", "Help comes before this form.")]
    if walk.told_on is not None and rules.has_changed(form.answers):
        return [Reason("told_change", "Something has changed: the whole form comes first.", field="recheck")]
    missing = walk.unanswered(form.answers)
    reasons = [Reason("unanswered", f"Not answered: {label}", field=screen_id) for screen_id, label in missing]
    reasons += [Reason("doubt", one.says, field=one.screen_id) for one in walk.doubts(form.answers)]
    return [*reasons, *_why_not_under(form, under)]


def _why_not_under(form: Begun, under: Signature) -> list[Reason]:
    reasons = []
    if not under.name:
        reasons.append(Reason("missing", "Please write the name under the card.", field="name"))
    if under.signed_as not in ("client", "guardian", "staff"):
        reasons.append(Reason("missing", "Please say who signs.", field="signed_as"))
    if under.signed_as == "client" and drafts.guardian_signs(form.client, form.walk.on):
        says = "A parent or guardian signs for somebody under 18."
        reasons.append(Reason("guardian_signs", says, field="signed_as", allowed="signed by a guardian"))
    if under.on_paper_of and (says := _not_that_day(form, under.on_paper_of)):
        reasons.append(Reason("paper_day", says, field="on_paper_of"))
    return reasons


def _not_that_day(form: Begun, day: date) -> str:
    held = form.walk.rulebook.intervals["screening_form"].days or 0
    born_on = form.client.born_on
    if day > form.walk.on:
        return "That day is still to come. Which day is written on the paper?"
    if born_on is not None and day < born_on:
        return "That is before the client was born. Which day is written on the paper?"
    if day <= form.walk.on - timedelta(days=held):
        return "A form that old holds no longer: it is asked anew. Is the day right?"
    return ""


def _changed_meanwhile(form: Begun, read: Read) -> Reason:
    what = "an answer was changed" if read.saves != form.saved else "the questions were changed by the studio"
    says = f"After this card was opened, {what}. Please read it once more; it shows how it is now."
    return Reason("changed_meanwhile", says, allowed="the card as it is now")
