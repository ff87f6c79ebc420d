"""The health form by its private link: opened, saved screen by screen, signed, changed by a new version."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid4

from dateutil.relativedelta import relativedelta
from django.db import transaction

from clients import models, queries
from clients.actions import links, screening, seals
from clients.queries.standings import LAST_SCREEN
from clients.rules import form as rules
from clients.rules.outcomes import Outcome
from clients.rules.reference import Rulebook
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused

State = models.HealthForm.State
BY_LINK = "client by link"
# A guardian signs below this age (studio default; local law may say otherwise).
OF_AGE = 18
# Asked anew each time a form is filled in again: how it is now, never how it was.
ASKED_ANEW = ("H17", "F", "S")
# Asked anew when a form is gone on with on another day: they are about today.
OF_THE_DAY = ("H17", "F")


@dataclass(frozen=True)
class OpenForm:
    """A form as its client may see it. `is_begun` says that something was saved since it was last signed."""

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


@dataclass(frozen=True)
class SignedForm:
    """What a client is told after signing."""

    name: str
    signed_on: date
    signed_name: str
    outcome: Outcome
    is_reviewed: bool


@dataclass(frozen=True)
class Saved:
    """What became of one screen: the answers kept, a message for each field that was not, the next screen's id.

    `next_screen` is empty when the form is through; `is_emergency` says that help comes first.
    """

    kept: dict[str, Any]
    errors: dict[str, str]
    next_screen: str
    is_emergency: bool


def open_form(token: str, *, now: datetime) -> OpenForm:
    """The form behind a private link, with what was saved. Raises LinkGone; Refused `no_rules`."""
    link = links.link_for(token, now=now)
    in_force = queries.rules_in_force()
    if link.opened_at is None:
        models.FormLink.objects.filter(pk=link.pk, opened_at=None).update(opened_at=now)
    client, today = link.client, queries.day_of(now, link.client)
    draft, signed = _versions(client)
    answers = _told_so_far(client, draft, today) if draft else _starting_from(client, signed)
    audit.read("open_form", draft or signed or link, by=None, now=now, client_key=client.pk, actor=BY_LINK)
    return OpenForm(
        client_id=client.pk,
        name=client.name,
        answers=answers,
        at_screen=draft.at_screen if draft else "",
        is_begun=draft is not None,
        signed_before=queries.day_of(signed.signed_at, client) if signed and signed.signed_at else None,
        guardian_signs=_guardian_signs(client, today),
        expires_on=queries.day_of(link.expires_at, client),
        born_on=client.born_on,
        today=today,
        rulebook=in_force.rulebook,
        is_reviewed=in_force.reviewed_on is not None,
    )


def save_screen(token: str, *, screen_id: str, posted: Mapping[str, Sequence[str]], now: datetime) -> Saved:
    """Keep the good answers of one screen, also beside bad ones; an answer that differs from the signed form voids it.

    Raises LinkGone (also when the form was signed meanwhile) and HealthForm.DoesNotExist for a screen not asked here.
    """
    with transaction.atomic():
        client = _locked(token, now)
        draft, signed = _versions(client)
        walk = _Walk(queries.rules_in_force().rulebook, queries.day_of(now, client), client.born_on)
        answers = _told_so_far(client, draft, walk.on) if draft else _starting_from(client, signed)
        kept, errors = rules.clean(walk.screen(screen_id, answers), posted, on=walk.on)
        answers |= kept
        draft = _keep(client, draft, answers, at_screen=screen_id, by=None, actor=BY_LINK, now=now)
        if signed and signed.state == State.SIGNED and _differs(client, signed, kept):
            _void(client, signed, now)
        following = walk.next(answers, after=screen_id)
        is_emergency = following is not None and following.kind == "emergency"
        if is_emergency:
            # Told to the staff at once: the desk sees "speak to the instructor" though nobody has signed.
            screening.store(client, draft, answers, now=now, by=None, actor=BY_LINK)
        if not errors:
            _mark_screen(draft, following)
    return Saved(kept, errors, following.id if following else "", is_emergency)


def sign_form(token: str, *, name: str, signed_as: str, now: datetime) -> models.Screening:
    """Sign what was saved, screen it and close the link.

    Raises LinkGone; Refused `nothing_saved`, `emergency`, `unanswered` (the field is the screen to go to),
    `missing` for a signature without a name, `guardian_signs` for a minor.
    """
    with transaction.atomic():
        client = _locked(token, now)
        draft, _ = _versions(client)
        if draft is None:
            raise Refused(Reason("nothing_saved", "There is nothing to sign yet.", allowed="at least one answer"))
        result = _sign(client, draft, name=name, signed_as=signed_as, by=None, actor=BY_LINK, now=now)
        models.FormLink.objects.filter(client=client, ended_at=None).update(ended_at=now)
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
    """A whole form as told to staff, or copied from paper: the next version, signed and screened.

    Raises Refused as `sign_form` does.
    """
    with transaction.atomic():
        client = models.Client.objects.select_for_update(of=("self",)).select_related("home").get(pk=client_id)
        draft, _ = _versions(client)
        draft = _keep(client, draft, dict(answers), at_screen=LAST_SCREEN, by=by, actor="", now=now)
        return _sign(client, draft, name=name, signed_as=signed_as, by=by, actor="", now=now)


def signed_outcome(token: str, *, now: datetime) -> SignedForm:
    """What was signed by this link, to thank for it: no answers are opened. Raises LinkGone."""
    link = links.signed_link(token, now=now)
    client = link.client
    form = client.health_forms.filter(signed_at=link.ended_at).first() if link.ended_at else None
    if form is None or form.signed_at is None:
        raise links.LinkGone("unknown_link")
    screenings = form.screenings.filter(decided_at__gte=form.signed_at)
    outcome, reviewed_on = screenings.values_list("outcome", "rule_set__reviewed_on").earliest("decided_at")
    signed_on = queries.day_of(form.signed_at, client)
    return SignedForm(client.name, signed_on, form.signed_name, Outcome(outcome), reviewed_on is not None)


@dataclass(frozen=True)
class _Walk:
    """The rules' walk through the form on a day."""

    rulebook: Rulebook
    on: date
    born_on: date | None

    def screen(self, screen_id: str, answers: rules.Answers) -> rules.Screen:
        due = rules.screens(self.rulebook, answers, on=self.on, born_on=self.born_on)
        found = next((one for one in due if one.id == screen_id and one.kind != "emergency"), None)
        if found is None:
            raise models.HealthForm.DoesNotExist
        return found

    def next(self, answers: rules.Answers, *, after: str) -> rules.Screen | None:
        return rules.next_screen(self.rulebook, answers, on=self.on, born_on=self.born_on, after=after)


def _locked(token: str, now: datetime) -> models.Client:
    """The client of an open link; the second look after the lock finds a link that was closed meanwhile."""
    client_id = links.link_for(token, now=now).client_id
    client = models.Client.objects.select_for_update(of=("self",)).select_related("home").get(pk=client_id)
    links.link_for(token, now=now)
    return client


def _versions(client: models.Client) -> tuple[models.HealthForm | None, models.HealthForm | None]:
    """The draft, and the last version that was signed (it may be void already)."""
    newest = list(client.health_forms.order_by("-version")[:2])
    draft = next((one for one in newest if one.state == State.DRAFT), None)
    return draft, next((one for one in newest if one.state != State.DRAFT), None)


def _answers(client: models.Client, form: models.HealthForm) -> dict[str, Any]:
    return dict(seals.opened(form, "sealed_answers", client=client))


def _told_so_far(client: models.Client, draft: models.HealthForm, today: date) -> dict[str, Any]:
    """What a draft holds that is still an answer today."""
    answers = _answers(client, draft)
    if queries.day_of(draft.saved_at, client) == today:
        return answers
    return {key: value for key, value in answers.items() if not key.startswith(OF_THE_DAY)}


def _starting_from(client: models.Client, signed: models.HealthForm | None) -> dict[str, Any]:
    if signed is None:
        return {}
    return {key: value for key, value in _answers(client, signed).items() if not key.startswith(ASKED_ANEW)}


def _keep(
    client: models.Client,
    draft: models.HealthForm | None,
    answers: dict[str, Any],
    *,
    at_screen: str,
    by: studio_models.Person | None,
    actor: str,
    now: datetime,
) -> models.HealthForm:
    if draft is None:
        version = 1 + max(client.health_forms.values_list("version", flat=True), default=0)
        draft = models.HealthForm(id=uuid4(), client=client, version=version, started_at=now)
    draft.at_screen, draft.saved_at, draft.saves = at_screen, now, draft.saves + 1
    draft.sealed_answers = seals.sealed(answers, row=draft, column="sealed_answers", client=client)
    draft.save()
    audit.wrote("save_form", draft, by=by, now=now, actor=actor, client_key=client.pk)
    return draft


def _mark_screen(draft: models.HealthForm, following: rules.Screen | None) -> None:
    draft.at_screen = following.id if following else LAST_SCREEN
    draft.save(update_fields=["at_screen"])


def _differs(client: models.Client, signed: models.HealthForm, kept: Mapping[str, Any]) -> bool:
    before = _answers(client, signed)
    return any(before.get(key) != value for key, value in kept.items())


def _void(client: models.Client, signed: models.HealthForm, now: datetime) -> None:
    signed.state = State.REPLACED
    signed.save(update_fields=["state"])
    screening.replace_open(client, now=now)
    audit.wrote("void_form", signed, by=None, now=now, actor=BY_LINK, client_key=client.pk)


def _sign(
    client: models.Client,
    draft: models.HealthForm,
    *,
    name: str,
    signed_as: str,
    by: studio_models.Person | None,
    actor: str,
    now: datetime,
) -> models.Screening:
    answers = _told_so_far(client, draft, queries.day_of(now, client))
    name = " ".join(name.replace("\x00", "").split())[:120]
    if reasons := _why_not_signed(client, answers, name, signed_as, now):
        raise Refused(reasons)
    client.health_forms.filter(state=State.SIGNED).update(state=State.REPLACED)
    draft.state, draft.signed_at, draft.signed_name, draft.signed_as = State.SIGNED, now, name, signed_as
    draft.save(update_fields=["state", "signed_at", "signed_name", "signed_as"])
    audit.wrote("sign_form", draft, by=by, now=now, actor=actor, client_key=client.pk)
    return screening.store(client, draft, answers, now=now, by=by, actor=actor)


def _why_not_signed(
    client: models.Client, answers: dict[str, Any], name: str, signed_as: str, now: datetime
) -> list[Reason]:
    rulebook, today = queries.rules_in_force().rulebook, queries.day_of(now, client)
    if signed_as != "staff" and rules.is_emergency(rulebook, answers, on=today, born_on=client.born_on):
        return [Reason("emergency", "Help comes before this form.")]
    missing = rules.unanswered(rulebook, answers, today, born_on=client.born_on)
    reasons = [Reason("unanswered", f"Not answered: {label}", field=screen_id) for screen_id, label in missing]
    if not name:
        reasons.append(Reason("missing", "Please write the name under the card.", field="name"))
    if signed_as not in ("client", "guardian", "staff"):
        reasons.append(Reason("missing", "Please say who signs.", field="signed_as"))
    if signed_as == "client" and _guardian_signs(client, today):
        says = "A parent or guardian signs for somebody under 18."
        reasons.append(Reason("guardian_signs", says, field="signed_as", allowed="signed by a guardian"))
    return reasons


def _guardian_signs(client: models.Client, today: date) -> bool:
    return client.born_on is not None and today < client.born_on + relativedelta(years=OF_AGE)
