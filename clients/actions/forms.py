"""The health form by its private link: opened, and saved screen by screen by the client or by staff as told."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from clients import models, queries
from clients.actions import drafts, links, screening
from clients.actions.drafts import Begun, Hand
from clients.queries.standings import LAST_SCREEN
from clients.rules import form as rules
from clients.rules.outcomes import Outcome
from clients.rules.reference import Rulebook
from studio import models as studio_models
from studio.actions import audit

State = models.HealthForm.State


@dataclass(frozen=True)
class OpenForm:
    """A form as whoever fills it in may see it.

    `is_begun` says that something was saved since it was last signed; `saves` and `rules_id` are the version that a
    page sends back; `told_on` is the day of the form that a re-check confirms (None: the whole form is asked);
    `told_to` names the member of staff who types it in.
    """

    client_id: UUID
    name: str
    answers: dict[str, Any]
    at_screen: str
    is_begun: bool
    signed_before: date | None
    guardian_signs: bool
    expires_on: date
    born_on: date | None
    today: date
    rulebook: Rulebook
    is_reviewed: bool
    walk: rules.Walk
    saves: int
    rules_id: int
    told_to: str

    @property
    def told_on(self) -> date | None:
        return self.walk.told_on

    @property
    def due(self) -> list[rules.Screen]:
        return self.walk.screens(self.answers)


@dataclass(frozen=True)
class SignedForm:
    """What a client is told after signing. `told_to` names the member of staff who typed the form in."""

    name: str
    client_id: UUID
    signed_on: date
    signed_name: str
    outcome: Outcome
    is_reviewed: bool
    told_to: str


@dataclass(frozen=True)
class Saved:
    """What became of one screen: the answers kept, a message for each field that was not, the next screen's id.

    `next_screen` is empty when the form is through; `is_emergency` says that help comes first. `meanwhile` holds what
    somebody else wrote on the same screen after this page was opened, by field; then nothing was kept. `is_turned`
    says that a re-check has become the whole form.
    """

    kept: dict[str, Any]
    errors: dict[str, str]
    next_screen: str
    is_emergency: bool
    meanwhile: Mapping[str, str]
    is_turned: bool = False


def open_form(token: str, *, now: datetime, by: studio_models.Person | None = None) -> OpenForm:
    """The form behind a private link, with what was saved. Raises LinkGone; Refused `no_rules`.

    `by` is who is signed in: a form that is typed in as told opens for her alone.
    """
    link = links.link_for(token, now=now, by=by)
    if link.opened_at is None:
        models.FormLink.objects.filter(pk=link.pk, opened_at=None).update(opened_at=now)
    form, hand = drafts.begun(link.client, link, now=now), Hand(link.told_to)
    client, draft, signed = form.client, form.draft, form.signed
    row = draft or signed or link
    audit.read("open_form", row, by=hand.by, now=now, client_key=client.pk, actor=hand.actor)
    return OpenForm(
        client_id=client.pk,
        name=client.name,
        answers=form.answers,
        at_screen=draft.at_screen if draft else "",
        is_begun=draft is not None,
        signed_before=queries.day_of(signed.signed_at, client) if signed and signed.signed_at else None,
        guardian_signs=drafts.guardian_signs(client, form.walk.on),
        expires_on=queries.day_of(link.expires_at, client),
        born_on=client.born_on,
        today=form.walk.on,
        rulebook=form.walk.rulebook,
        is_reviewed=queries.rules_in_force().reviewed_on is not None,
        walk=form.walk,
        saves=form.saved,
        rules_id=form.rules_id,
        told_to=link.told_to.name if link.told_to else "",
    )


def save_screen(
    token: str,
    *,
    screen_id: str,
    posted: Mapping[str, Sequence[str]],
    now: datetime,
    by: studio_models.Person | None = None,
    saves: int | None = None,
) -> Saved:
    """Keep the good answers of one screen, also beside bad ones; an answer that differs from the signed form voids it.

    `saves` is the version that the page was opened with: what another page wrote on this screen since then is shown
    and not overwritten. Raises LinkGone (also when the form was signed meanwhile) and HealthForm.DoesNotExist for a
    screen not asked here.
    """
    with transaction.atomic():
        link = links.locked(token, now=now, by=by)
        form, hand = drafts.begun(link.client, link, now=now), Hand(link.told_to)
        screen = _screen(form, screen_id)
        kept, errors = rules.clean(screen, posted, on=form.walk.on, born_on=form.client.born_on)
        told = form.answers | kept
        doubted = rules.on_screen(screen, form.walk.rulebook, told, on=form.walk.on, born_on=form.client.born_on)
        if errors := doubted | errors:
            kept = {key: value for key, value in kept.items() if key not in errors}
        following = form.walk.next(told, after=screen_id)
        if not _is_emergency(following) and (meanwhile := _meanwhile(form, screen, kept, saves)):
            return Saved({}, {}, screen_id, False, meanwhile)
        return _keep(replace(form, answers=form.answers | kept), kept, errors, screen_id, hand, now)


def signed_outcome(token: str, *, now: datetime, by: studio_models.Person | None = None) -> SignedForm:
    """What was signed by this link, to thank for it: no answers are opened. Raises LinkGone."""
    link = links.signed_link(token, now=now, by=by)
    client = link.client
    form = client.health_forms.filter(signed_at=link.ended_at).first() if link.ended_at else None
    if form is None or form.signed_at is None:
        raise links.LinkGone("unknown_link")
    screenings = form.screenings.filter(decided_at__gte=form.signed_at)
    outcome, reviewed_on = screenings.values_list("outcome", "rule_set__reviewed_on").earliest("decided_at")
    return SignedForm(
        name=client.name,
        client_id=client.pk,
        signed_on=queries.day_of(form.signed_at, client),
        signed_name=form.signed_name,
        outcome=Outcome(outcome),
        is_reviewed=reviewed_on is not None,
        told_to=link.told_to.name if link.told_to else "",
    )


def _screen(form: Begun, screen_id: str) -> rules.Screen:
    due = form.walk.screens(form.answers)
    found = next((one for one in due if one.id == screen_id and one.kind != "emergency"), None)
    if found is None:
        raise models.HealthForm.DoesNotExist
    return found


def _is_emergency(screen: rules.Screen | None) -> bool:
    return screen is not None and screen.kind == "emergency"


def _meanwhile(form: Begun, screen: rules.Screen, kept: Mapping[str, Any], saves: int | None) -> dict[str, str]:
    """What another page wrote on this screen since version `saves`, where it is not the same."""
    if saves is None or form.saves.get(screen.id, 0) <= saves:
        return {}
    fields = [field for field in screen.fields if field.id in kept and kept[field.id] != form.answers.get(field.id)]
    return {field.id: rules.in_words(field, form.answers) for field in fields}


def _keep(
    form: Begun, kept: dict[str, Any], errors: dict[str, str], screen_id: str, hand: Hand, now: datetime
) -> Saved:
    is_turned = form.walk.told_on is not None and rules.has_changed(form.answers)
    if is_turned:
        form, screen_id = drafts.as_whole(form), "safety"
    draft = drafts.keep(form, at_screen=screen_id, hand=hand, now=now)
    signed = form.signed
    if signed and signed.state == State.SIGNED and (is_turned or _differs(form, signed, kept)):
        _void(form.client, signed, hand, now)
    following = form.walk.next(form.answers, after=screen_id)
    if _is_emergency(following):
        # Told to the staff at once: the desk sees "speak to the instructor" though nobody has signed.
        screening.store(form.client, draft, form.answers, now=now, by=hand.by, actor=hand.actor)
    if not errors:
        draft.at_screen = following.id if following else LAST_SCREEN
        draft.save(update_fields=["at_screen"])
    return Saved(kept, errors, following.id if following else "", _is_emergency(following), {}, is_turned)


def _differs(form: Begun, signed: models.HealthForm, kept: Mapping[str, Any]) -> bool:
    """Whether an answer differs from the signed form's; in a re-check, one that it had and that is not about today."""
    before = drafts.answers_of(form.client, signed)
    if form.walk.told_on is not None:
        kept = {key: value for key, value in rules.without(kept, rules.ANEW_IN_QUICK).items() if key in before}
    return any(before.get(key) != value for key, value in kept.items())


def _void(client: models.Client, signed: models.HealthForm, hand: Hand, now: datetime) -> None:
    signed.state = State.REPLACED
    signed.save(update_fields=["state"])
    screening.replace_open(client, now=now)
    audit.wrote("void_form", signed, by=hand.by, now=now, actor=hand.actor, client_key=client.pk)
