"""The versions of a client's form as the actions about it need them: opened, gone on with, kept."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import uuid4

from dateutil.relativedelta import relativedelta

from clients import models, queries
from clients.actions import seals
from clients.rules import form as rules
from studio import models as studio_models
from studio.actions import audit

State, FormKind = models.HealthForm.State, models.forms.FormKind
BY_LINK = "client by link"
# A guardian signs below this age (studio default; local law may say otherwise).
OF_AGE = 18
# Beside the answers of a draft: at which save each screen was kept last.
SAVES = "_saves"


@dataclass(frozen=True)
class Hand:
    """Whose hand fills the form in: a member of staff as told, or the client by her link."""

    by: studio_models.Person | None

    @property
    def actor(self) -> str:
        return "" if self.by else BY_LINK


@dataclass(frozen=True)
class Begun:
    """A form being filled in: its client, the draft (if any), the last signed version (it may be void already), what
    holds as answered today, at which save each screen was kept, and the way through it."""

    client: models.Client
    draft: models.HealthForm | None
    signed: models.HealthForm | None
    answers: dict[str, Any]
    saves: dict[str, int]
    walk: rules.Walk
    rules_id: int

    @property
    def kind(self) -> str:
        return FormKind.FULL if self.walk.told_on is None else FormKind.QUICK

    @property
    def saved(self) -> int:
        """How often the draft was saved: the version that goes with a page."""
        return self.draft.saves if self.draft else 0


def begun(client: models.Client, link: models.FormLink | None, *, now: datetime) -> Begun:
    """What a form holds today. Raises Refused `no_rules`, SealBroken."""
    in_force, today = queries.rules_in_force(), queries.day_of(now, client)
    draft, signed = versions(client)
    is_quick = link is not None and link.kind == FormKind.QUICK and not queries.why_whole(client.pk, on=today)
    is_quick = is_quick and (draft is None or draft.kind == FormKind.QUICK)
    if draft:
        answers = _told_so_far(client, draft, today)
    elif link is not None and link.told_to_id:
        # What is typed in holds nothing but what is on the paper, or what is said.
        answers = {}
    else:
        answers = _starting_from(client, signed, is_quick=is_quick)
    if draft and draft.kind == FormKind.QUICK and not is_quick:
        answers = rules.whole_from_recheck(answers) | {SAVES: {}}
    saves = answers.pop(SAVES, {})
    told_on = queries.whole_day(client, signed) if is_quick and signed else None
    walk = rules.Walk(in_force.rulebook, today, client.born_on, told_on, frozenset(saves))
    return Begun(client, draft, signed, answers, saves, walk, in_force.id)


def as_whole(form: Begun) -> Begun:
    """The re-check told of a change: the whole form, with what was told just now and the earlier answers in it."""
    answers = rules.whole_from_recheck(form.answers)
    return replace(form, answers=answers, saves={}, walk=replace(form.walk, told_on=None, asked=frozenset()))


def versions(client: models.Client) -> tuple[models.HealthForm | None, models.HealthForm | None]:
    """The draft, and the last version that was signed (it may be void already)."""
    newest = list(client.health_forms.order_by("-version")[:2])
    draft = next((one for one in newest if one.state == State.DRAFT), None)
    return draft, next((one for one in newest if one.state != State.DRAFT), None)


def answers_of(client: models.Client, form: models.HealthForm) -> dict[str, Any]:
    return dict(seals.opened(form, "sealed_answers", client=client))


def keep(form: Begun, *, at_screen: str, hand: Hand, now: datetime) -> models.HealthForm:
    """Write the draft down: a new version, or the one there is, saved once more."""
    client, draft = form.client, form.draft
    if draft is None:
        version = 1 + max(client.health_forms.values_list("version", flat=True), default=0)
        draft = models.HealthForm(id=uuid4(), client=client, version=version, started_at=now)
    draft.at_screen, draft.saved_at, draft.saves = at_screen, now, draft.saves + 1
    draft.kind, draft.told_to = form.kind, hand.by
    answers = form.answers | {SAVES: form.saves | {at_screen: draft.saves}}
    draft.sealed_answers = seals.sealed(answers, row=draft, column="sealed_answers", client=client)
    draft.save()
    audit.wrote("save_form", draft, by=hand.by, now=now, actor=hand.actor, client_key=client.pk)
    return draft


def sealed_answers(form: Begun, row: models.HealthForm) -> bytes:
    """The answers alone, as a signed version keeps them."""
    return seals.sealed(form.answers, row=row, column="sealed_answers", client=form.client)


def guardian_signs(client: models.Client, today: date) -> bool:
    return client.born_on is not None and today < client.born_on + relativedelta(years=OF_AGE)


def _told_so_far(client: models.Client, draft: models.HealthForm, today: date) -> dict[str, Any]:
    """What a draft holds that is still an answer today."""
    answers = answers_of(client, draft)
    if queries.day_of(draft.saved_at, client) == today:
        return answers
    gone = rules.ANEW_IN_QUICK if draft.kind == FormKind.QUICK else rules.OF_THE_DAY
    return rules.without(answers, gone)


def _starting_from(client: models.Client, signed: models.HealthForm | None, *, is_quick: bool) -> dict[str, Any]:
    if signed is None:
        return {}
    return rules.without(answers_of(client, signed), rules.ANEW_IN_QUICK if is_quick else rules.ANEW_IN_FULL)
