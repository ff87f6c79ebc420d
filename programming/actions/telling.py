"""What a client tells of a lesson: what was felt at a line, sealed, and how hard the whole was."""

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients import actions as client_actions
from clients import queries as clients_queries
from clients.actions import seals
from clients.models import Client
from programming import models
from programming.actions.logs import check_care
from programming.rules import felt as rules
from programming.rules.felt import Felt
from programming.rules.load import ANSWER_DAYS, EFFORT_WORDS, HARDEST
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused

COLUMN = "sealed_felt"


def tell_felt(log_id: UUID, *, line_id: UUID, felt: Felt, by: Person, now: datetime) -> models.LogLine:
    """Keep what was felt at a marked line, in the lesson or up to four weeks after; nothing felt takes it away.

    Strong pain, or something that has lasted over a week, calls a review. Raises Refused when the line has no mark,
    the words or numbers are none, or `by` does not care for the client.
    """
    with transaction.atomic():
        log, client, days_ago = _lesson(log_id, by, now)
        line = models.LogLine.objects.select_for_update().filter(log=log, program_line_id=line_id).first()
        if line is None:
            raise Refused(Reason("no_mark", "Mark the line first, then say what was felt.", "line", "one of the marks"))
        if reasons := rules.refusals(felt, days_ago=days_ago):
            raise Refused(reasons)
        line.sealed_felt = None if felt.is_nothing else _sealed(line, felt, client)
        line.save(update_fields=[COLUMN])
        audit.wrote("tell_felt", line, by=by, now=now, client_key=client.pk)
        if rules.asks_review(felt, days_ago=days_ago):
            client_actions.call_review(client.pk, by=by, now=now)
    return line


def read_felt(log_id: UUID, *, line_id: UUID, by: Person, now: datetime) -> Felt:
    """What was felt at a line, opened; the reading is kept on record. Nothing when there is none. Raises Refused."""
    with transaction.atomic():
        _, client, _ = _lesson(log_id, by, now)
        line = models.LogLine.objects.filter(log_id=log_id, program_line_id=line_id).first()
        if line is None or not line.sealed_felt:
            return Felt()
        audit.read("read_felt", line, by=by, now=now, client_key=client.pk, why="care")
        return opened(line, client)


def felts(line_ids: Iterable[UUID], client: Client) -> dict[UUID, Felt]:
    """What was felt at these lines of one client, opened. Whoever asks records who reads. Raises SealBroken."""
    rows = models.LogLine.objects.filter(pk__in=list(line_ids), sealed_felt__isnull=False)
    return {row.pk: opened(row, client) for row in rows}


def opened(line: models.LogLine, client: Client) -> Felt:
    found = seals.opened(line, COLUMN, client=client)
    return Felt(found["pain"], found["symptom"], found["lasting"])


def rate_lesson(log_id: UUID, *, effort: int, by: Person, now: datetime) -> models.Log:
    """Keep how hard a finished lesson felt, 0 to 10; another answer replaces it. Raises Refused."""
    with transaction.atomic():
        log, client, days_ago = _lesson(log_id, by, now)
        if reasons := _effort_refusals(log, effort, days_ago):
            raise Refused(reasons)
        log.effort, log.effort_at = effort, now
        log.save(update_fields=["effort", "effort_at"])
        audit.wrote("rate_lesson", log, by=by, now=now, client_key=client.pk)
    return log


def take_back_effort(log_id: UUID, *, by: Person, now: datetime) -> models.Log:
    """The lesson has no number again; nothing happens when it had none. Raises Refused as `rate_lesson` does."""
    with transaction.atomic():
        log, client, _ = _lesson(log_id, by, now)
        if log.effort is not None:
            log.effort = log.effort_at = None
            log.save(update_fields=["effort", "effort_at"])
            audit.wrote("take_back_effort", log, by=by, now=now, client_key=client.pk)
    return log


def _effort_refusals(log: models.Log, effort: int, days_ago: int) -> list[Reason]:
    if effort not in EFFORT_WORDS:
        return [Reason("effort", f"How hard it felt is between 0 and {HARDEST}.", "effort", f"0 to {HARDEST}")]
    if log.finished_at is None:
        return [Reason("not_finished", "How hard it was is asked when the lesson is over.", "effort", "after it")]
    if days_ago > ANSWER_DAYS:
        says = f"This lesson was {days_ago} days ago; an answer is asked for within two weeks."
        return [Reason("too_late", says, "effort", f"within {ANSWER_DAYS} days")]
    return []


def _lesson(log_id: UUID, by: Person, now: datetime) -> tuple[models.Log, Client, int]:
    """The log, locked, its client, and how many days ago the lesson was. Raises Refused without care."""
    rows = models.Log.objects.select_for_update(of=("self",)).select_related("program__client__home", "place")
    log = rows.get(pk=log_id)
    client = log.program.client
    check_care(client.pk, by=by, now=now)
    days_ago = clients_queries.day_of(now, client) - clients_queries.day_of(log.place.during.lower, client)
    return log, client, days_ago.days


def _sealed(line: models.LogLine, felt: Felt, client: Client) -> bytes:
    words = {"pain": felt.pain, "symptom": felt.symptom, "lasting": felt.lasting}
    return seals.sealed(words, row=line, column=COLUMN, client=client)
