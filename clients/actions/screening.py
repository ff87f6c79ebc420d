"""What the rules found in a form and in all that was learned since, stored: the outcome, its reasons, the limits."""

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any
from uuid import uuid4

from clients import models, queries
from clients.actions import coming, facts, letters, seals
from clients.rules import form as form_rules
from clients.rules import screening as screening_rules
from clients.rules.facts import ScreeningFacts
from studio import models as studio_models
from studio.actions import audit

FormKind = models.FormKind
# The rules are asked because a form was signed, or because its answers ask for help at once.
BY_FORM = "form"


@dataclass(frozen=True)
class Asked:
    """Whether a form is asked for again, which, and why: in plain letters only absence or event, the event sealed."""

    kind: str = ""
    why: str = ""
    event: str = ""


def store(
    client: models.Client,
    form: models.HealthForm,
    answers: form_rules.Answers,
    *,
    now: datetime,
    by: studio_models.Person | None,
    actor: str = "",
    asked_for: str = BY_FORM,
) -> models.Screening:
    """Screen `form` with all that is known besides, and keep what was found; the client's row is locked by the caller.

    At signing what the form tells goes on record. From then on a condition or restriction stays in force, told again
    or not, until a named person ends it. A draft is stored only when its answers ask for help at once.
    """
    rules, on = queries.rules_in_force(), queries.day_of(now, client)
    if form.signed_at is not None and asked_for == BY_FORM:
        facts.record_told(client, form, answers, rulebook=rules.rulebook, now=now)
    known = facts.gathered(client, form, answers, rulebook=rules.rulebook, now=now)
    choices, asked = queries.choices(), _still_asked(client, form, asked_for)
    found = screening_rules.screen(known, rules.rulebook, on=on, choices=choices)
    look_ahead_on = coming.list_ahead(client, known, rulebook=rules.rulebook, choices=choices, on=on, now=now)
    replace_open(client, now=now)
    screening = models.Screening(id=uuid4(), client=client, form=form, rule_set_id=rules.id, decided_at=now)
    screening.asked_for, screening.look_ahead_on = asked_for, look_ahead_on
    _write_down(screening, found, asked, client=client)
    screening.save(force_insert=True)
    audit.wrote("screen", screening, by=by, now=now, actor=actor, client_key=client.pk)
    if form.signed_at is not None:
        letters.follow(client, found.reasons, now=now, by=by)
    return screening


def screen_again(
    client: models.Client,
    *,
    asked_for: str,
    by: studio_models.Person | None,
    now: datetime,
    actor: str = "",
) -> models.Screening | None:
    """Ask the rules anew about the form in force and all that was learned since; None when no form is signed.

    `asked_for` is one word for what called for it. Answers that ask for help and are not signed yet stay in force. The
    client's row is locked by the caller. Raises Refused `no_rules`.
    """
    standing = client.screenings.filter(replaced_at=None).select_related("form").first()
    if standing is not None and standing.form.signed_at is None:
        return standing
    form = form_in_force(client)
    if form is None:
        return None
    answers = _read(form, client=client, asked_for=asked_for, by=by, now=now, actor=actor)
    return store(client, form, answers, now=now, by=by, actor=actor, asked_for=asked_for)


def facts_of(
    client: models.Client, *, asked_for: str, by: studio_models.Person | None, now: datetime, actor: str = ""
) -> ScreeningFacts | None:
    """All that the rules would decide on now, opened and recorded as read; None when no form is signed.

    Nothing is stored. Raises Refused `no_rules`.
    """
    form = form_in_force(client)
    if form is None:
        return None
    answers = _read(form, client=client, asked_for=asked_for, by=by, now=now, actor=actor)
    return facts.gathered(client, form, answers, rulebook=queries.rules_in_force().rulebook, now=now)


def form_in_force(client: models.Client) -> models.HealthForm | None:
    """The signed version that nothing has made void."""
    return client.health_forms.filter(state=models.HealthForm.State.SIGNED).first()


def replace_open(client: models.Client, *, now: datetime) -> None:
    """Void what stands: nobody is screened until the rules have spoken again."""
    models.Screening.objects.filter(client=client, replaced_at=None).update(replaced_at=now)


def ask_again(screening: models.Screening, asked: Asked, *, client: models.Client) -> None:
    """Mark a standing screening: until that form is filled in, nobody is booked on it."""
    words = seals.opened(screening, "sealed_limits", client=client) | {"asked": asked.event}
    screening.sealed_limits = seals.sealed(words, row=screening, column="sealed_limits", client=client)
    screening.asks_again, screening.asks_again_why = asked.kind, asked.why
    screening.save(update_fields=["sealed_limits", "asks_again", "asks_again_why"])


def asked_of(screening: models.Screening, *, client: models.Client) -> Asked:
    """What a screening asks for again. Raises SealBroken."""
    if not screening.asks_again:
        return Asked()
    event = seals.opened(screening, "sealed_limits", client=client)["asked"]
    return Asked(screening.asks_again, screening.asks_again_why, event)


def _write_down(
    screening: models.Screening, found: screening_rules.Screened, asked: Asked, *, client: models.Client
) -> None:
    screening.outcome, screening.valid_until = found.outcome.value, found.valid_until
    screening.look_again_on = found.look_again_on
    screening.asks_again, screening.asks_again_why = asked.kind, asked.why
    reasons = [asdict(reason) for reason in found.reasons]
    screening.sealed_reasons = seals.sealed(reasons, row=screening, column="sealed_reasons", client=client)
    limits = {
        "limits": [asdict(one) for one in found.limits],
        "relaxed": [asdict(one) for one in found.relaxed],
        "asked": asked.event,
    }
    screening.sealed_limits = seals.sealed(limits, row=screening, column="sealed_limits", client=client)


def _still_asked(client: models.Client, form: models.HealthForm, asked_for: str) -> Asked:
    """What was asked for before and this does not answer; a re-check never stands in for the whole form."""
    before = client.screenings.order_by("-decided_at").first()
    if before is None or not before.asks_again:
        return Asked()
    is_signing = asked_for == BY_FORM and form.signed_at is not None
    if is_signing and (form.kind == FormKind.FULL or before.asks_again == FormKind.QUICK):
        return Asked()
    return asked_of(before, client=client)


def _read(
    form: models.HealthForm,
    *,
    client: models.Client,
    asked_for: str,
    by: studio_models.Person | None,
    now: datetime,
    actor: str,
) -> dict[str, Any]:
    answers = dict(seals.opened(form, "sealed_answers", client=client))
    audit.read("screen_again", form, by=by, now=now, client_key=client.pk, why=asked_for, actor=actor)
    return answers
