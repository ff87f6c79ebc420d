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
from clients.rules.limits import LimitFound
from clients.rules.reference import Rulebook
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
) -> models.Screening:
    """Screen the answers of `form` and keep what was found; the client's row is locked by the caller.

    Conditions told on an earlier form stay in force, told again or not, until a named person settles them.
    """
    rules = queries.rules_in_force()
    on = queries.day_of(now, client)
    told = form_rules.facts(rules.rulebook, answers, on=_written_on(client, form, now), born_on=client.born_on)
    if form.signed_at is not None:
        _record(client, form, told.conditions, now)
    carried = _carried(client, form, told, rules.rulebook)
    found = screening_rules.screen(replace(told, conditions=(*told.conditions, *carried)), rules.rulebook, on=on)
    replace_open(client, now=now)
    screening = models.Screening(id=uuid4(), client=client, form=form, rule_set_id=rules.id, decided_at=now)
    screening.outcome, screening.valid_until = found.outcome.value, found.valid_until
    reasons = [asdict(reason) for reason in found.reasons]
    screening.sealed_reasons = seals.sealed(reasons, row=screening, column="sealed_reasons", client=client)
    screening.save(force_insert=True)
    models.Limit.objects.bulk_create(_limit(client, screening, limit) for limit in found.limits)
    audit.wrote("screen", screening, by=by, now=now, actor=actor, client_key=client.pk)
    return screening


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
        if form is None:
            return None
        answers = seals.opened(form, "sealed_answers", client=client)
        audit.read("screen_again", form, by=by, now=now, client_key=client.pk, why="a condition was settled")
        return store(client, form, answers, now=now, by=by)


def _written_on(client: models.Client, form: models.HealthForm, now: datetime) -> date:
    return queries.day_of(form.signed_at or now, client)


def _record(
    client: models.Client, form: models.HealthForm, conditions: Iterable[ActiveCondition], now: datetime
) -> None:
    for told in conditions:
        models.ConditionRecord.objects.update_or_create(
            client=client,
            condition_id=told.condition_id,
            side=told.side.value if told.side else "",
            state=State.ACTIVE,
            defaults={"since": told.since, "form": form},
            create_defaults={"since": told.since, "form": form, "recorded_at": now},
        )


def _carried(
    client: models.Client, form: models.HealthForm, told: ScreeningFacts, rulebook: Rulebook
) -> list[ActiveCondition]:
    """What earlier forms told and this one does not."""
    records = client.conditions.filter(state=State.ACTIVE).exclude(form=form).select_related("form")
    carried = []
    for record in records:
        if not any(_covers(one, record) for one in told.conditions):
            carried.append(_as_told_then(client, record, rulebook))
    return carried


def _covers(one: ActiveCondition, record: models.ConditionRecord) -> bool:
    return one.condition_id == record.condition_id and one.side in (None, Side.BOTH, record.side or None)


def _as_told_then(client: models.Client, record: models.ConditionRecord, rulebook: Rulebook) -> ActiveCondition:
    """The condition with the answers given about it on its own form."""
    side = Side(record.side) if record.side else None
    plain = ActiveCondition(record.condition_id, side, record.since)
    if record.form is None or record.form.signed_at is None:
        return plain
    answers = seals.opened(record.form, "sealed_answers", client=client)
    day = queries.day_of(record.form.signed_at, client)
    told = form_rules.facts(rulebook, answers, on=day, born_on=client.born_on)
    same = (one for one in told.conditions if (one.condition_id, one.side) == (record.condition_id, side))
    return next(same, plain)


def _limit(client: models.Client, screening: models.Screening, found: LimitFound) -> models.Limit:
    return models.Limit(
        client=client,
        screening=screening,
        demand_id=found.demand,
        level=found.level.value,
        side=found.side.value,
        how=found.how,
        because=list(found.because),
        source_ids=list(found.source_ids),
        strength=found.strength.value,
        until=found.until,
    )
