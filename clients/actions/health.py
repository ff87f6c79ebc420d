"""Reading a client's health: who may, and an audit row each time sealed words or limits are opened."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from clients import models, queries
from clients.actions import facts, reading, seals
from clients.queries import whys
from clients.rules import form as form_rules
from clients.rules import limits as limit_rules
from clients.rules.facts import ActiveCondition, Side
from clients.rules.limits import LimitFound, Proposal
from clients.rules.outcomes import LEVELS, Level, Outcome
from clients.rules.reference import Strength
from studio import models as studio_models
from studio.actions import audit

State = models.HealthForm.State
MACHINE = "the house itself"


@dataclass(frozen=True)
class ReasonLine:
    """A rule that spoke in a screening, with its sources in words."""

    rule_id: str
    kind: str
    outcome: str
    says: str
    strength: str
    sources: tuple[whys.SourceLine, ...]


@dataclass(frozen=True)
class ToldCondition:
    """A condition in force. `is_told_now` is False for one that an earlier form told and the present one does not."""

    id: UUID
    name: str
    phase: str
    side: str
    since: date | None
    rests_on: str
    is_told_now: bool


@dataclass(frozen=True)
class Brief:
    """What a teacher reads before a lesson. `outcome` is None when nothing was screened.

    `changed` names questions answered otherwise than on the form before; `own_words` are question and answer.
    """

    client_id: UUID
    name: str
    say_it: str
    pronoun: str
    outcome: Outcome | None
    decided_at: datetime | None
    valid_until: date | None
    signed_on: date | None
    signed_name: str
    signed_as: str
    rules: queries.RulesInForce | None
    reasons: tuple[ReasonLine, ...]
    limits: tuple[whys.LimitLine, ...]
    conditions: tuple[ToldCondition, ...]
    proposals: tuple[Proposal, ...]
    own_words: tuple[tuple[str, str], ...]
    changed: tuple[str, ...]
    previous_outcome: Outcome | None

    @property
    def needs_letter(self) -> tuple[str, ...]:
        """What a doctor's written word is asked for."""
        return tuple(reason.says for reason in self.reasons if reason.outcome == Outcome.REFER)


def read_limits(
    client_id: UUID, *, by: studio_models.Person | None, now: datetime, why: str = ""
) -> tuple[LimitFound, ...]:
    """The limits in force, strictest first, then in the order of the demands; empty when nothing was screened.

    An instructor who cares for the client on the day may read; another instructor or the owner gives a reason `why`,
    which is recorded. Without a person (`by` None) the house itself reads, with its reason. Raises Refused
    `not_open` or `say_why`.
    """
    with transaction.atomic():
        client = models.Client.objects.select_related("home").get(pk=client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        screening = client.screenings.filter(replaced_at=None).first()
        if screening is None:
            return ()
        audit.read("read_limits", screening, by=by, now=now, client_key=client.pk, why=why, actor="" if by else MACHINE)
        return limits_of(screening, client=client)


def read_brief(client_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> Brief:
    """Everything a teacher may know of a client's health, each rule with its sources. Raises as `read_limits` does."""
    with transaction.atomic():
        client = models.Client.objects.select_related("home").get(pk=client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        screening = client.screenings.filter(replaced_at=None).select_related("form").first()
        audit.read("read_brief", screening or client, by=by, now=now, client_key=client.pk, why=why)
        if screening is None:
            return _nothing_screened(client)
        return _brief(client, screening, now)


def limits_of(screening: models.Screening, *, client: models.Client) -> tuple[LimitFound, ...]:
    """The limits a screening found, strictest first, then in the order of the demands. Raises SealBroken."""
    found = (
        LimitFound(
            demand=row["demand"],
            level=Level(row["level"]),
            how=row["how"],
            side=Side(row["side"]),
            because=tuple(row["because"]),
            source_ids=tuple(row["source_ids"]),
            strength=Strength(row["strength"]),
            until=date.fromisoformat(row["until"]) if row["until"] else None,
        )
        for row in seals.opened(screening, "sealed_limits", client=client)["limits"]
    )
    return tuple(sorted(found, key=lambda limit: LEVELS.index(limit.level)))


def _nothing_screened(client: models.Client) -> Brief:
    return Brief(
        client_id=client.pk, name=client.name, say_it=client.say_it, pronoun=client.pronoun, outcome=None,
        decided_at=None, valid_until=None, signed_on=None, signed_name="", signed_as="", rules=None, reasons=(),
        limits=(), conditions=(), proposals=(), own_words=(), changed=(), previous_outcome=None,
    )  # fmt: skip


def _brief(client: models.Client, screening: models.Screening, now: datetime) -> Brief:
    rules, form = queries.rules_of(screening.rule_set_id), screening.form
    records = [(one, facts.condition_of(one, client=client)) for one in client.conditions.filter(state="active")]
    records.sort(key=lambda pair: (pair[1].condition_id, pair[1].side or ""))
    rests_on = {fact.condition_id: record.get_rests_on_display() for record, fact in records}
    known = [fact for _, fact in records if fact.condition_id in rules.rulebook.conditions]
    return Brief(
        client_id=client.pk,
        name=client.name,
        say_it=client.say_it,
        pronoun=client.pronoun,
        outcome=Outcome(screening.outcome),
        decided_at=screening.decided_at,
        valid_until=screening.valid_until,
        signed_on=queries.day_of(form.signed_at, client) if form.signed_at else None,
        signed_name=form.signed_name,
        signed_as=form.get_signed_as_display(),
        rules=rules,
        reasons=_reasons(client, screening, rules),
        limits=whys.limit_lines(limits_of(screening, client=client), rules.rulebook, rests_on=rests_on),
        conditions=tuple(_told(record, fact, form, rules) for record, fact in records),
        proposals=limit_rules.proposals(known, rules.rulebook, on=queries.day_of(now, client)),
        own_words=_own_words(client, form, rules, now),
        changed=_changed(client, form, rules, now),
        previous_outcome=_previous(screening),
    )


def _reasons(client: models.Client, screening: models.Screening, rules: queries.RulesInForce) -> tuple[ReasonLine, ...]:
    return tuple(
        ReasonLine(
            rule_id=one["rule_id"],
            kind=one["kind"].replace("_", " "),
            outcome=one["outcome"],
            says=one["says"],
            strength=one["strength"].replace("_", " "),
            sources=whys.source_lines(one["source_ids"], rules.rulebook),
        )
        for one in seals.opened(screening, "sealed_reasons", client=client)
    )


def _told(
    record: models.ConditionRecord, fact: ActiveCondition, form: models.HealthForm, rules: queries.RulesInForce
) -> ToldCondition:
    condition = rules.rulebook.conditions.get(fact.condition_id)
    return ToldCondition(
        id=record.pk,
        name=condition.name if condition else fact.condition_id,
        phase=condition.phase_or_window if condition else "",
        side=fact.side or "",
        since=fact.since,
        rests_on=record.get_rests_on_display(),
        is_told_now=record.form_id == form.pk,
    )


def _own_words(
    client: models.Client, form: models.HealthForm, rules: queries.RulesInForce, now: datetime
) -> tuple[tuple[str, str], ...]:
    answers = _answers(client, form)
    due = form_rules.screens(rules.rulebook, answers, on=_day(client, form, now), born_on=client.born_on)
    texts = [field for one in due for field in one.fields if field.kind is form_rules.FieldKind.TEXT]
    return tuple((field.label, str(answers[field.id])) for field in texts if answers.get(field.id))


def _changed(
    client: models.Client, form: models.HealthForm, rules: queries.RulesInForce, now: datetime
) -> tuple[str, ...]:
    before = client.health_forms.filter(version__lt=form.version, signed_at__isnull=False).order_by("-version").first()
    if before is None:
        return ()
    then, today = _read_back(client, before, rules, now), _read_back(client, form, rules, now)
    return tuple(label for label, words in today.items() if then.get(label) != words)


def _read_back(
    client: models.Client, form: models.HealthForm, rules: queries.RulesInForce, now: datetime
) -> dict[str, str]:
    told = form_rules.summary(
        rules.rulebook, _answers(client, form), on=_day(client, form, now), born_on=client.born_on
    )
    return {label: words for label, words, _ in told}


def _answers(client: models.Client, form: models.HealthForm) -> dict[str, Any]:
    return dict(seals.opened(form, "sealed_answers", client=client))


def _day(client: models.Client, form: models.HealthForm, now: datetime) -> date:
    return queries.day_of(form.signed_at or now, client)


def _previous(screening: models.Screening) -> Outcome | None:
    earlier = models.Screening.objects.filter(client_id=screening.client_id, decided_at__lt=screening.decided_at)
    found = earlier.order_by("-decided_at").values_list("outcome", flat=True).first()
    return Outcome(found) if found else None
