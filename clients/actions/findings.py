"""The lines of what a teacher reads of a client: what was told, taken, put down and found, opened and in words."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from clients import models, queries
from clients.actions import facts, seals
from clients.queries import whys
from clients.rules import adjusting, gates, triggers
from clients.rules import form as form_rules
from clients.rules import readings as reading_rules
from clients.rules.facts import ActiveCondition
from clients.rules.limits import Proposal, proposals
from clients.rules.outcomes import Level
from clients.rules.reasons import ReasonKind

# How many sittings are shown; the older ones stay on file.
SITTINGS = 6


@dataclass(frozen=True)
class ReasonLine:
    """A rule that spoke in a screening, with its sources in words.

    `is_answered` says that a clinician's letter answers it; `chosen` names the point at which the owner chose.
    """

    rule_id: str
    kind: str
    outcome: str
    says: str
    strength: str
    sources: tuple[whys.SourceLine, ...]
    is_answered: bool = False
    chosen: str = ""


@dataclass(frozen=True)
class RelaxedLine:
    """A limit that a clinician's letter takes back until a day, that day included; `level` is the one it had."""

    name: str
    level: str
    side: str
    until: date
    because: tuple[str, ...]


@dataclass(frozen=True)
class ToldCondition:
    """A condition in force. `is_told_now` is False for one that an earlier form told and the present one does not.

    `ended` is the proposal when its window is over: what follows, once a named person confirms.
    """

    id: UUID
    condition_id: str
    name: str
    phase: str
    side: str
    since: date | None
    rests_on: str
    is_told_now: bool
    ended: Proposal | None
    follower: str


@dataclass(frozen=True)
class RestrictionLine:
    """Movements left out until a named person ends it; `noted_by` is empty when the client ticked it on the form."""

    id: UUID
    demands: tuple[str, ...]
    level: str
    side: str
    words: str
    rests_on: str
    noted_by: str
    noted_at: datetime
    is_told_now: bool


@dataclass(frozen=True)
class SittingLine:
    """One sitting's readings in words; `repeat_from` is the hour from which it is measured again, if that is asked."""

    id: UUID
    taken_at: datetime
    taken_by: str
    pressures: tuple[str, ...]
    heart_rate: int | None
    standing_drop: int | None
    notes: tuple[str, ...]
    is_struck: bool
    counts: bool
    repeat_from: str


def reasons_of(
    screening: models.Screening, *, client: models.Client, rules: queries.RulesInForce
) -> tuple[ReasonLine, ...]:
    """The reasons in the order of the gates. Raises SealBroken."""
    points = {point.id: point.label for point in adjusting.points(rules.rulebook)}
    return tuple(
        ReasonLine(
            rule_id=one["rule_id"],
            kind=one["kind"].replace("_", " "),
            outcome=one["outcome"],
            says=one["says"],
            strength=one["strength"].replace("_", " "),
            sources=whys.source_lines(one["source_ids"], rules.rulebook),
            is_answered=bool(one.get("answered_by")),
            chosen=points.get(one.get("chosen", ""), one.get("chosen", "")),
        )
        for one in seals.opened(screening, "sealed_reasons", client=client)
    )


def relaxed_of(
    screening: models.Screening, *, client: models.Client, rules: queries.RulesInForce
) -> tuple[RelaxedLine, ...]:
    """What letters take back. Raises SealBroken."""
    book = rules.rulebook
    return tuple(
        RelaxedLine(
            name=book.demands[one["demand"]].name,
            level=Level(one["level"]).value,
            side="" if one["side"] == "both" else one["side"],
            until=date.fromisoformat(one["until"]),
            because=tuple(book.conditions[by].name for by in one["because"] if by in book.conditions),
        )
        for one in seals.opened(screening, "sealed_limits", client=client)["relaxed"]
    )


def conditions_of(
    client: models.Client, form: models.HealthForm | None, *, rules: queries.RulesInForce, on: date
) -> tuple[ToldCondition, ...]:
    """The conditions on record that nobody has settled. Raises SealBroken."""
    records = [(one, facts.condition_of(one, client=client)) for one in client.conditions.filter(state="active")]
    records.sort(key=lambda pair: (pair[1].condition_id, pair[1].side or ""))
    return tuple(_told(record, fact, form, rules, on) for record, fact in records)


def _told(
    record: models.ConditionRecord,
    fact: ActiveCondition,
    form: models.HealthForm | None,
    rules: queries.RulesInForce,
    on: date,
) -> ToldCondition:
    condition = rules.rulebook.conditions.get(fact.condition_id)
    ended = next(iter(proposals([fact], rules.rulebook, on=on)), None) if condition else None
    follower = rules.rulebook.conditions.get(ended.next_condition_id) if ended else None
    return ToldCondition(
        id=record.pk,
        condition_id=fact.condition_id,
        name=condition.name if condition else fact.condition_id,
        phase=condition.phase_or_window if condition else "",
        side=fact.side or "",
        since=fact.since,
        rests_on=record.get_rests_on_display(),
        is_told_now=form is not None and record.form_id == form.pk,
        ended=ended,
        follower=f"{follower.name} ({follower.phase_or_window})" if follower else "",
    )


def restrictions_of(
    client: models.Client, form: models.HealthForm | None, *, rules: queries.RulesInForce
) -> tuple[RestrictionLine, ...]:
    """What is left out until somebody ends it, the newest first. Raises SealBroken."""
    rows = client.restrictions.filter(ended_at=None).select_related("noted_by").order_by("-noted_at", "pk")
    lines = []
    for row in rows:
        kept, demands = facts.kept_terms(row, client=client), rules.rulebook.demands
        lines.append(
            RestrictionLine(
                id=row.pk,
                demands=tuple(demands[one].name for one in demands if one in kept.demands),
                level=kept.level.value,
                side=kept.side or "",
                words=kept.words,
                rests_on=row.get_rests_on_display(),
                noted_by=row.noted_by.name if row.noted_by else "",
                noted_at=row.noted_at,
                is_told_now=form is not None and row.form_id == form.pk,
            )
        )
    return tuple(lines)


def sittings_of(client: models.Client, *, asks_repeat: bool, now: datetime) -> tuple[SittingLine, ...]:
    """The last sittings, the newest first, mistyped ones marked. Raises SealBroken."""
    rows = list(client.rest_readings.select_related("taken_by").order_by("-taken_at", "-pk")[:SITTINGS])
    counting = next((row.pk for row in rows if row.struck_at is None), None)
    return tuple(_sitting(row, client, asks_repeat and row.pk == counting, row.pk == counting, now) for row in rows)


def _sitting(
    row: models.RestReading, client: models.Client, asks_repeat: bool, counts: bool, now: datetime
) -> SittingLine:
    sitting = facts.sitting_of(row, client=client)
    is_open = asks_repeat and now - row.taken_at <= reading_rules.ONE_SITTING
    return SittingLine(
        id=row.pk,
        taken_at=row.taken_at,
        taken_by=row.taken_by.name,
        pressures=tuple(f"{pair.systolic}/{pair.diastolic}" for pair in sitting.pressures),
        heart_rate=sitting.heart_rate,
        standing_drop=sitting.standing_drop,
        notes=_notes(sitting),
        is_struck=row.struck_at is not None,
        counts=counts,
        repeat_from=queries.clock_of(row.taken_at + reading_rules.REST, client) if is_open else "",
    )


def _notes(sitting: reading_rules.Sitting) -> tuple[str, ...]:
    told = {
        "confusion, chest pain, breathlessness or change of sight with it": sitting.has_signs,
        "faint or dizzy": sitting.is_faint,
        "takes medicine for the pressure": sitting.is_treated,
    }
    return tuple(words for words, is_so in told.items() if is_so)


def asks_repeat(screening: models.Screening, *, client: models.Client) -> bool:
    """Whether the first pressure waits for its repeat. Raises SealBroken."""
    reasons = seals.opened(screening, "sealed_reasons", client=client)
    waits = (gates.REPEAT_GATE, ReasonKind.UNANSWERED.value)
    return any((one["rule_id"], one["kind"]) == waits for one in reasons)


def asked_in_words(screening: models.Screening, *, client: models.Client) -> str:
    """Which form is asked for again and why, in words for the teacher; empty when none is. Raises SealBroken."""
    if not screening.asks_again:
        return ""
    event = seals.opened(screening, "sealed_limits", client=client)["asked"]
    why = triggers.TRIGGERS.get(event, triggers.OTHERS.get(screening.asks_again_why, ""))
    return f"{triggers.KINDS[screening.asks_again]}, after {why}" if why else triggers.KINDS[screening.asks_again]


def own_words_of(
    answers: dict[str, Any], client: models.Client, *, rules: queries.RulesInForce, on: date
) -> tuple[tuple[str, str], ...]:
    """Question and answer of all that was told in own words."""
    due = form_rules.screens(rules.rulebook, answers, on=on, born_on=client.born_on)
    texts = [field for one in due for field in one.fields if field.kind is form_rules.FieldKind.TEXT]
    return tuple((field.label, str(answers[field.id])) for field in texts if answers.get(field.id))
