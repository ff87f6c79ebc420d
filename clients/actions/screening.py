"""What the rules found in a form, stored: the outcome, its sealed reasons, the conditions told and their limits."""

from collections.abc import Iterable
from dataclasses import asdict, replace
from datetime import date, datetime
from uuid import UUID, uuid4

from django.db import transaction

from clients import models, queries
from clients.actions import seals
from clients.rules import form as form_rules
from clients.rules import screening as screening_rules
from clients.rules.facts import ActiveCondition, ScreeningFacts, Side
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused

State = models.ConditionRecord.State


def store(
    client: models.Client,
    form: models.HealthForm,
    answers: form_rules.Answers,
    *,
    now: datetime,
    by: studio_models.Person | None,
    actor: str = "",
    asked_for: str = "form",
) -> models.Screening:
    """Screen the answers of `form` and keep what was found; the client's row is locked by the caller.

    Conditions told on an earlier form stay in force, told again or not, until a named person settles them.
    """
    rules = queries.rules_in_force()
    on = queries.day_of(now, client)
    told = form_rules.facts(rules.rulebook, answers, on=_written_on(client, form, now), born_on=client.born_on)
    if form.signed_at is not None:
        _record(client, form, told.conditions, now)
    carried = _carried(client, form, told)
    found = screening_rules.screen(replace(told, conditions=(*told.conditions, *carried)), rules.rulebook, on=on)
    replace_open(client, now=now)
    screening = models.Screening(id=uuid4(), client=client, form=form, rule_set_id=rules.id, decided_at=now)
    screening.asked_for = asked_for
    screening.outcome, screening.valid_until = found.outcome.value, found.valid_until
    reasons = [asdict(reason) for reason in found.reasons]
    screening.sealed_reasons = seals.sealed(reasons, row=screening, column="sealed_reasons", client=client)
    limits = [asdict(limit) for limit in found.limits]
    screening.sealed_limits = seals.sealed(limits, row=screening, column="sealed_limits", client=client)
    screening.look_again_on = found.look_again_on
    screening.save(force_insert=True)
    audit.wrote("screen", screening, by=by, now=now, actor=actor, client_key=client.pk)
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

    `asked_for` is one word for what called for it. The client's row is locked by the caller. Raises Refused `no_rules`.
    """
    form = client.health_forms.filter(state=models.HealthForm.State.SIGNED).first()
    if form is None:
        return None
    answers = seals.opened(form, "sealed_answers", client=client)
    audit.read("screen_again", form, by=by, now=now, client_key=client.pk, why=asked_for, actor=actor)
    return store(client, form, answers, now=now, by=by, actor=actor, asked_for=asked_for)


def replace_open(client: models.Client, *, now: datetime) -> None:
    """Void what stands: nobody is screened until the rules have spoken again."""
    models.Screening.objects.filter(client=client, replaced_at=None).update(replaced_at=now)


def settle_condition(record_id: UUID, *, by: studio_models.Person, now: datetime) -> models.Screening | None:
    """A named person says that a condition told on an earlier form is over; the client is screened anew without it.

    Settled already: nothing changes. Raises Refused `told_now` when the form in force tells it.
    """
    with transaction.atomic():
        client_id = models.ConditionRecord.objects.values_list("client_id", flat=True).get(pk=record_id)
        client = models.Client.objects.select_for_update(of=("self",)).select_related("home").get(pk=client_id)
        record = models.ConditionRecord.objects.get(pk=record_id)
        if record.state == State.SETTLED:
            return None
        form = client.health_forms.filter(state=models.HealthForm.State.SIGNED).first()
        if form is not None and record.form_id == form.pk:
            says = "The form in force tells of it; it ends with a new form."
            raise Refused(Reason("told_now", says, allowed="a new health form"))
        record.state, record.settled_by, record.settled_at = State.SETTLED, by, now
        record.save(update_fields=["state", "settled_by", "settled_at"])
        audit.wrote("settle_condition", record, by=by, now=now, client_key=client.pk)
        return screen_again(client, asked_for="settled", by=by, now=now)


def _written_on(client: models.Client, form: models.HealthForm, now: datetime) -> date:
    return queries.day_of(form.signed_at or now, client)


def _record(
    client: models.Client, form: models.HealthForm, conditions: Iterable[ActiveCondition], now: datetime
) -> None:
    for told in conditions:
        mark = seals.mark(f"{told.condition_id}|{told.side or ''}", client=client)
        known = client.conditions.filter(mark=mark, state=State.ACTIVE).first()
        record = known or models.ConditionRecord(id=uuid4(), client=client, mark=mark, recorded_at=now)
        record.form = form
        record.sealed_fact = seals.sealed(asdict(told), row=record, column="sealed_fact", client=client)
        record.save()


def condition_of(record: models.ConditionRecord, *, client: models.Client) -> ActiveCondition:
    """The condition a record holds. Raises SealBroken."""
    fact = seals.opened(record, "sealed_fact", client=client)
    return ActiveCondition(
        condition_id=fact["condition_id"],
        side=Side(fact["side"]) if fact["side"] else None,
        since=date.fromisoformat(fact["since"]) if fact["since"] else None,
        needs_clearance=fact["needs_clearance"],
        is_held=fact["is_held"],
    )


def _carried(client: models.Client, form: models.HealthForm, told: ScreeningFacts) -> list[ActiveCondition]:
    """What earlier forms told and this one does not, with the answers given about it then."""
    records = client.conditions.filter(state=State.ACTIVE).exclude(form=form)
    held = [condition_of(record, client=client) for record in records]
    return [one for one in held if not any(_covers(other, one) for other in told.conditions)]


def _covers(one: ActiveCondition, held: ActiveCondition) -> bool:
    return one.condition_id == held.condition_id and one.side in (None, Side.BOTH, held.side)
