"""The end of a condition, in the name of a person: a window that has closed, or one that somebody says is over."""

from dataclasses import replace
from datetime import datetime
from uuid import UUID, uuid4

from django.db import transaction

from clients import models, queries
from clients.actions import facts, locks, reading, screening
from clients.rules.facts import ActiveCondition
from clients.rules.limits import proposals
from clients.rules.reference import Rulebook
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused

State = models.ConditionRecord.State
# Whose word it is that a condition is over, when the client's own form in force still tells of it.
WHOSE_WORD = {
    "own_word": "the client told me so",
    "observation": "I have seen so myself",
    "letter": "a clinician’s letter says so",
}


def confirm_window_end(
    record_id: UUID, *, by: studio_models.Person, now: datetime, why: str = ""
) -> models.Screening | None:
    """A named person confirms that a window is over: the next condition takes over, if the rules name one.

    Confirmed already: None, and nothing changes. Raises Refused `window_open`, or as `read_limits` does.
    """
    with transaction.atomic():
        client, record = _locked(record_id)
        reading.allowed(client, by=by, now=now, why=why)
        if record.state == State.SETTLED:
            return None
        rulebook, on = queries.rules_in_force().rulebook, queries.day_of(now, client)
        fact = facts.condition_of(record, client=client)
        if not proposals([fact], rulebook, on=on):
            says = "Its window is not over yet, or something besides the date keeps it in force."
            raise Refused(Reason("window_open", says, allowed="after its last day"))
        _end(record, "confirm_window_end", {}, by=by, now=now)
        if follower := _follower(fact, rulebook):
            _take_over(record, follower, client=client, by=by, now=now)
        return screening.screen_again(client, asked_for="window", by=by, now=now)


def settle_condition(
    record_id: UUID, *, by: studio_models.Person, now: datetime, whose_word: str = "", why: str = ""
) -> models.Screening | None:
    """A named person says that a condition is over; the client is screened anew without it.

    `whose_word` (one of WHOSE_WORD) is needed when the form in force tells of it. Settled already: None, and nothing
    changes. Raises Refused `whose_word`, or as `read_limits` does.
    """
    with transaction.atomic():
        client, record = _locked(record_id)
        reading.allowed(client, by=by, now=now, why=why)
        if record.state == State.SETTLED:
            return None
        form = screening.form_in_force(client)
        is_told_now = form is not None and record.form_id == form.pk
        if is_told_now and whose_word not in WHOSE_WORD:
            says = "The form in force tells of it. Whose word is it that it is over?"
            raise Refused(Reason("whose_word", says, field="whose_word", allowed=", ".join(WHOSE_WORD.values())))
        _end(record, "settle_condition", {"whose_word": whose_word} if is_told_now else {}, by=by, now=now)
        return screening.screen_again(client, asked_for="settled", by=by, now=now)


def _locked(record_id: UUID) -> tuple[models.Client, models.ConditionRecord]:
    """The client's row is locked first, so that of two who confirm at once the second finds it done."""
    client_id = models.ConditionRecord.objects.values_list("client_id", flat=True).get(pk=record_id)
    client = locks.client(client_id)
    return client, client.conditions.get(pk=record_id)


def _end(
    record: models.ConditionRecord, verb: str, detail: dict[str, str], *, by: studio_models.Person, now: datetime
) -> None:
    record.state, record.settled_by, record.settled_at = State.SETTLED, by, now
    record.save(update_fields=["state", "settled_by", "settled_at"])
    audit.wrote(verb, record, by=by, now=now, client_key=record.client_id, detail=detail)


def _follower(fact: ActiveCondition, rulebook: Rulebook) -> ActiveCondition | None:
    following = rulebook.conditions.get(rulebook.conditions[fact.condition_id].next_condition_id)
    if following is None:
        return None
    return replace(fact, condition_id=following.id, side=fact.side if following.is_sided else None, is_held=False)


def _take_over(
    ended: models.ConditionRecord,
    fact: ActiveCondition,
    *,
    client: models.Client,
    by: studio_models.Person,
    now: datetime,
) -> None:
    """The next condition of the chain goes on record, unless it is there already."""
    mark = facts.mark_of(fact, client=client)
    if client.conditions.filter(mark=mark, state=State.ACTIVE).exists():
        return
    record = models.ConditionRecord(
        id=uuid4(),
        client=client,
        rests_on=ended.rests_on,
        form=ended.form,
        letter=ended.letter,
        follows=ended,
        recorded_by=by,
        recorded_at=now,
    )
    facts.seal_condition(record, fact, client=client)
    record.save(force_insert=True)
    audit.wrote("take_over", record, by=by, now=now, client_key=client.pk)
