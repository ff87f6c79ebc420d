"""Reading a client's health: who may, and an audit row each time sealed words or limits are opened."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from clients import models, queries
from clients.actions import facts, findings, reading, seals
from clients.actions.findings import ReasonLine, RelaxedLine, RestrictionLine, SittingLine, ToldCondition
from clients.queries import whys
from clients.rules import form as form_rules
from clients.rules.coming import ComingChange, coming_changes
from clients.rules.facts import ScreeningFacts, Side
from clients.rules.limits import LimitFound, Proposal
from clients.rules.outcomes import LEVELS, Level, Outcome
from clients.rules.reference import Strength
from studio import models as studio_models
from studio.actions import audit

MACHINE = "the house itself"


@dataclass(frozen=True)
class Brief:
    """What a teacher reads before a lesson. `outcome` is None when nothing was screened.

    `changed` names questions answered otherwise than on the form before; `own_words` are question and answer.
    `unread_words` are those to put into movements (`has_unread` says that there are any, even without a word).
    `coming` are the changes of the next 30 days; `expecting` what twelve weeks bring in a pregnancy. `asked_again`
    names the form that is asked for again and why, in words; `asks_repeat` that a first pressure waits for its repeat.
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
    relaxed: tuple[RelaxedLine, ...]
    conditions: tuple[ToldCondition, ...]
    restrictions: tuple[RestrictionLine, ...]
    sittings: tuple[SittingLine, ...]
    asks_repeat: bool
    coming: tuple[ComingChange, ...]
    expecting: form_rules.Expecting | None
    has_unread: bool
    unread_words: str
    asked_again: str
    own_words: tuple[tuple[str, str], ...]
    changed: tuple[str, ...]
    previous_outcome: Outcome | None

    @property
    def needs_letter(self) -> tuple[str, ...]:
        """What a doctor's written word is asked for."""
        return tuple(reason.says for reason in self.reasons if reason.outcome == Outcome.REFER)

    @property
    def waits(self) -> tuple[str, ...]:
        """What waits for somebody's deed or name, in words."""
        found = ["The first pressure is measured again after five minutes of rest."] if self.asks_repeat else []
        found += ["The client’s own words about what to leave out are put into movements."] if self.has_unread else []
        found += [f"The form is asked for again: {self.asked_again}."] if self.asked_again else []
        return (*found, *(proposal.says for proposal in self.proposals))

    @property
    def has_turned(self) -> bool:
        """Whether the screening before this one ended otherwise."""
        return self.previous_outcome not in (None, self.outcome)

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        """The windows that are over and wait for a name."""
        return tuple(one.ended for one in self.conditions if one.ended)


@dataclass(frozen=True)
class LimitSheet:
    """The outcome and the limits in force with their why; `outcome` is None when nothing was screened."""

    client_id: UUID
    outcome: Outcome | None
    decided_at: datetime | None
    valid_until: date | None
    is_reviewed: bool
    limits: tuple[whys.LimitLine, ...]
    relaxed: tuple[RelaxedLine, ...]


def read_limits(
    client_id: UUID, *, by: studio_models.Person | None, now: datetime, why: str = ""
) -> tuple[LimitFound, ...]:
    """The limits in force, strictest first, then in the order of the demands; empty when nothing was screened.

    An instructor who cares for the client on the day may read; another instructor or the owner gives a reason `why`,
    which is recorded. Without a person (`by` None) the house itself reads, with its reason. Raises Refused
    `not_open` or `say_why`.
    """
    with transaction.atomic():
        client, screening = _opened(client_id, "read_limits", by=by, now=now, why=why)
        return limits_of(screening, client=client) if screening else ()


def read_limit_sheet(client_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> LimitSheet:
    """The outcome and the limits, each with its condition, rule and sources. Raises as `read_limits` does."""
    with transaction.atomic():
        client, screening = _opened(client_id, "read_limits", by=by, now=now, why=why)
        if screening is None:
            return LimitSheet(client.pk, None, None, None, False, (), ())
        rules = queries.rules_of(screening.rule_set_id)
        return LimitSheet(
            client_id=client.pk,
            outcome=Outcome(screening.outcome),
            decided_at=screening.decided_at,
            valid_until=screening.valid_until,
            is_reviewed=rules.reviewed_on is not None,
            limits=whys.limit_lines(limits_of(screening, client=client), rules.rulebook, rests_on={}),
            relaxed=findings.relaxed_of(screening, client=client, rules=rules),
        )


def read_brief(client_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> Brief:
    """Everything a teacher may know of a client's health, each rule with its sources. Raises as `read_limits` does."""
    with transaction.atomic():
        client = models.Client.objects.select_related("home").get(pk=client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        screening = client.screenings.filter(replaced_at=None).select_related("form").first()
        audit.read("read_brief", screening or client, by=by, now=now, client_key=client.pk, why=why)
        if screening is None:
            return _nothing_screened(client, now)
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


def _opened(
    client_id: UUID, verb: str, *, by: studio_models.Person | None, now: datetime, why: str
) -> tuple[models.Client, models.Screening | None]:
    """The client and the screening that stands, recorded as read. Raises Refused."""
    client = models.Client.objects.select_related("home").get(pk=client_id)
    why = reading.allowed(client, by=by, now=now, why=why)
    screening = client.screenings.filter(replaced_at=None).first()
    if screening is not None:
        audit.read(verb, screening, by=by, now=now, client_key=client.pk, why=why, actor="" if by else MACHINE)
    return client, screening


def _nothing_screened(client: models.Client, now: datetime) -> Brief:
    return Brief(
        client_id=client.pk, name=client.name, say_it=client.say_it, pronoun=client.pronoun, outcome=None,
        decided_at=None, valid_until=None, signed_on=None, signed_name="", signed_as="", rules=None, reasons=(),
        limits=(), relaxed=(), conditions=(), restrictions=(),
        sittings=findings.sittings_of(client, asks_repeat=False, now=now), asks_repeat=False, coming=(),
        expecting=None, has_unread=False, unread_words="", asked_again="", own_words=(), changed=(),
        previous_outcome=None,
    )  # fmt: skip


def _brief(client: models.Client, screening: models.Screening, now: datetime) -> Brief:
    rules, form, on = queries.rules_of(screening.rule_set_id), screening.form, queries.day_of(now, client)
    answers = _answers(client, form)
    known = facts.gathered(client, form, answers, rulebook=rules.rulebook, now=now)
    conditions = findings.conditions_of(client, form, rules=rules, on=on)
    asks_repeat = findings.asks_repeat(screening, client=client)
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
        reasons=findings.reasons_of(screening, client=client, rules=rules),
        limits=_limit_lines(screening, client, rules, conditions),
        relaxed=findings.relaxed_of(screening, client=client, rules=rules),
        conditions=conditions,
        restrictions=findings.restrictions_of(client, form, rules=rules),
        sittings=findings.sittings_of(client, asks_repeat=asks_repeat, now=now),
        asks_repeat=asks_repeat,
        coming=_coming(known, rules, on),
        expecting=form_rules.expecting(rules.rulebook, answers, on=on),
        has_unread=known.has_unread_words,
        unread_words=facts.own_words(answers) if known.has_unread_words else "",
        asked_again=findings.asked_in_words(screening, client=client),
        own_words=findings.own_words_of(answers, client, rules=rules, on=_day(client, form, now)),
        changed=_changed(client, form, rules, now),
        previous_outcome=_previous(screening),
    )


def _limit_lines(
    screening: models.Screening,
    client: models.Client,
    rules: queries.RulesInForce,
    conditions: tuple[ToldCondition, ...],
) -> tuple[whys.LimitLine, ...]:
    """The limits with their why; each condition says whose word it rests on."""
    rests_on = {one.condition_id: one.rests_on for one in conditions}
    return whys.limit_lines(limits_of(screening, client=client), rules.rulebook, rests_on=rests_on)


def _coming(known: ScreeningFacts, rules: queries.RulesInForce, on: date) -> tuple[ComingChange, ...]:
    return coming_changes(known, rules.rulebook, on=on, choices=queries.choices())


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
