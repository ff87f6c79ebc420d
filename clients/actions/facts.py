"""All that a screening decides on, opened and put together: the form, and what was learned of the client since."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from uuid import uuid4

from clients import models, queries
from clients.actions import letters, seals
from clients.rules import form as form_rules
from clients.rules import readings as reading_rules
from clients.rules.facts import ActiveCondition, Pressure, Readings, Restriction, ScreeningFacts, Side
from clients.rules.form.fields import OTHER
from clients.rules.outcomes import Level
from clients.rules.reference import Rulebook

State = models.ConditionRecord.State
RestsOn = models.Restriction.RestsOn
# The questions that ask what to leave out, each with its field for the client's own words.
LEFT_OUT = ("H10", "H16")


@dataclass(frozen=True)
class Kept:
    """What a restriction keeps sealed. `told_at` is the question that told it; empty when a teacher put it down."""

    demands: frozenset[str]
    level: Level
    side: Side | None
    told_at: str
    words: str


def record_told(
    client: models.Client, form: models.HealthForm, answers: form_rules.Answers, *, rulebook: Rulebook, now: datetime
) -> None:
    """Keep the conditions and restrictions that a form tells at its signing; from then on these records count.

    What is known already is taken up into the new form, so that nothing is kept twice. A re-check repeats the earlier
    words: what a named person has ended since then stays ended.
    """
    told = form_rules.facts(rulebook, answers, on=written_on(client, form, now), born_on=client.born_on)
    repeats = form.kind == models.forms.FormKind.QUICK
    for condition in told.conditions:
        if not (repeats and _is_settled(client, condition)):
            _record_condition(client, form, condition, now)
    for restriction in told.restrictions:
        if not (repeats and _is_ended(client, restriction)):
            _record_restriction(client, form, restriction, now)


def gathered(
    client: models.Client, form: models.HealthForm, answers: form_rules.Answers, *, rulebook: Rulebook, now: datetime
) -> ScreeningFacts:
    """All facts of the client: after signing the records are the truth for conditions and restrictions.

    Of a draft its own words count together with what is on record. The client's row is locked by the caller.
    """
    on = written_on(client, form, now)
    told = form_rules.facts(rulebook, answers, on=on, born_on=client.born_on)
    is_draft = form.signed_at is None
    kept = [(row, kept_terms(row, client=client)) for row in client.restrictions.all()]
    return replace(
        told,
        whole_on=form.whole_on,
        conditions=(*(told.conditions if is_draft else ()), *_on_record(client, form, told.conditions)),
        restrictions=(*_only_told(told.restrictions, form, kept), *_restrictions(kept)),
        letters=letters.terms_of(client),
        readings=_with_sitting(client, told, on),
        has_unread_words=told.has_unread_words and not _are_read(answers, kept),
    )


def written_on(client: models.Client, form: models.HealthForm, now: datetime) -> date:
    """The day the answers were given: that on the paper, else that of signing, else today."""
    return form.on_paper_of or queries.day_of(form.signed_at or now, client)


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


def seal_condition(record: models.ConditionRecord, fact: ActiveCondition, *, client: models.Client) -> None:
    """Put a condition into its record, which the caller saves."""
    record.sealed_fact = seals.sealed(asdict(fact), row=record, column="sealed_fact", client=client)
    record.mark = mark_of(fact, client=client)


def mark_of(fact: ActiveCondition, *, client: models.Client) -> str:
    return seals.mark(f"{fact.condition_id}|{fact.side or ''}", client=client)


def kept_terms(row: models.Restriction, *, client: models.Client) -> Kept:
    """What a restriction holds. Raises SealBroken."""
    terms = seals.opened(row, "sealed_terms", client=client)
    return Kept(
        demands=frozenset(terms["demands"]),
        level=Level(terms["level"]),
        side=Side(terms["side"]) if terms["side"] else None,
        told_at=terms["told_at"],
        words=terms["words"],
    )


def seal_terms(row: models.Restriction, kept: Kept, *, client: models.Client) -> None:
    """Put terms into their restriction, which the caller saves."""
    terms = asdict(kept) | {"demands": sorted(kept.demands)}
    row.sealed_terms = seals.sealed(terms, row=row, column="sealed_terms", client=client)


def sitting_of(row: models.RestReading, *, client: models.Client) -> reading_rules.Sitting:
    """The readings of one sitting. Raises SealBroken."""
    values = seals.opened(row, "sealed_values", client=client)
    return reading_rules.Sitting(
        pressures=tuple(Pressure(*pair) for pair in values["pressures"]),
        heart_rate=values["heart_rate"],
        is_treated=values["is_treated"],
        has_signs=values["has_signs"],
        standing_drop=values["standing_drop"],
        is_faint=values["is_faint"],
    )


def last_sitting(client: models.Client) -> models.RestReading | None:
    """The last sitting that was not struck."""
    return client.rest_readings.filter(struck_at=None).order_by("-taken_at", "-pk").first()


def own_words(answers: form_rules.Answers) -> str:
    """What the client wrote of things to leave out that no list holds."""
    told = (answers.get(f"{one}.words") for one in LEFT_OUT if OTHER in _chosen(answers, f"{one}.terms"))
    return "\n".join(words for words in told if isinstance(words, str) and words)


def _chosen(answers: form_rules.Answers, field_id: str) -> tuple[object, ...]:
    value = answers.get(field_id)
    return tuple(value) if isinstance(value, list | tuple) else ()


def _record_condition(client: models.Client, form: models.HealthForm, told: ActiveCondition, now: datetime) -> None:
    known = client.conditions.filter(mark=mark_of(told, client=client), state=State.ACTIVE).first()
    record = known or models.ConditionRecord(id=uuid4(), client=client, recorded_at=now)
    record.form = form
    seal_condition(record, told, client=client)
    record.save()


def _is_settled(client: models.Client, told: ActiveCondition) -> bool:
    records = client.conditions.filter(mark=mark_of(told, client=client)).order_by("-recorded_at")
    newest = records.values_list("state", flat=True).first()
    return newest == State.SETTLED


def _is_ended(client: models.Client, told: Restriction) -> bool:
    rows = client.restrictions.filter(rests_on=RestsOn.OWN_WORD)
    same = [row for row in rows if kept_terms(row, client=client).told_at == told.told_at]
    return bool(same) and all(row.ended_at is not None for row in same)


def _record_restriction(client: models.Client, form: models.HealthForm, told: Restriction, now: datetime) -> None:
    """One open row for each question: a longer list takes the shorter one up, what is no longer ticked stays apart."""
    rows = client.restrictions.filter(ended_at=None, rests_on=RestsOn.OWN_WORD, noted_by=None)
    for row in rows:
        kept = kept_terms(row, client=client)
        if kept.told_at == told.told_at and kept.demands <= told.demands:
            row.form = form
            seal_terms(row, replace(kept, demands=told.demands), client=client)
            row.save(update_fields=["form", "sealed_terms"])
            return
    row = models.Restriction(id=uuid4(), client=client, form=form, rests_on=RestsOn.OWN_WORD, noted_at=now)
    seal_terms(row, Kept(told.demands, told.level, told.side, told.told_at, ""), client=client)
    row.save(force_insert=True)


def _on_record(
    client: models.Client, form: models.HealthForm, told: Iterable[ActiveCondition]
) -> list[ActiveCondition]:
    """The conditions in force; one of an earlier form that the present one tells for that side too is told anew."""
    records = [(one, condition_of(one, client=client)) for one in client.conditions.filter(state=State.ACTIVE)]
    here = [fact for record, fact in records if record.form_id == form.pk]
    tells = [*here, *(told if form.signed_at is None else ())]
    earlier = [fact for record, fact in records if record.form_id != form.pk]
    return [*here, *(one for one in earlier if not any(_covers(other, one) for other in tells))]


def _covers(one: ActiveCondition, held: ActiveCondition) -> bool:
    return one.condition_id == held.condition_id and one.side in (None, Side.BOTH, held.side)


def _only_told(
    told: Iterable[Restriction], form: models.HealthForm, kept: Iterable[tuple[models.Restriction, Kept]]
) -> list[Restriction]:
    """What a form tells and no row keeps yet: that of a draft, or of a form signed before such rows were kept."""
    recorded = {terms.told_at for row, terms in kept if row.form_id == form.pk}
    return [one for one in told if one.told_at not in recorded]


def _restrictions(kept: Iterable[tuple[models.Restriction, Kept]]) -> list[Restriction]:
    return [
        Restriction(terms.demands, terms.told_at or f"teacher:{row.pk}", terms.level, terms.side)
        for row, terms in kept
        if row.ended_at is None and terms.demands
    ]


def _are_read(answers: form_rules.Answers, kept: Iterable[tuple[models.Restriction, Kept]]) -> bool:
    """Whether a teacher has put these very words into terms, on this form or on one before."""
    words = own_words(answers)
    return any(row.noted_by_id and row.form_id and terms.words == words for row, terms in kept)


def _with_sitting(client: models.Client, told: ScreeningFacts, on: date) -> Readings:
    row = last_sitting(client)
    sitting = sitting_of(row, client=client) if row else None
    taken_on = queries.day_of(row.taken_at, client) if row else None
    return reading_rules.beside_the_form(told.readings, sitting, taken_on=taken_on, written_on=on)
