"""Where a client stands with an exercise: derived from the finished logs and a senior teacher's word, never typed."""

from collections.abc import Collection, Sequence
from datetime import date, datetime
from uuid import UUID

from clients import queries as clients_queries
from clients.models import Client
from programming import models
from programming.queries import histories as history_queries
from programming.rules.progress import CLEAN_SCORE, Entry, Granted, standing


def derive(client_id: UUID, exercise_ids: Collection[str], *, now: datetime) -> None:
    """Work the standing with these exercises out anew from the whole history; the caller locks the client and
    keeps on record why. What was never practised nor granted has no standing.
    """
    client = Client.objects.select_related("home").get(pk=client_id)
    on = clients_queries.day_of(now, client)
    histories = history_queries.histories(client_id, exercise_ids)
    granted = history_queries.grants(client_id, exercise_ids)
    found = [_ownership(client_id, key, history, granted.get(key, ()), on) for key, history in histories.items()]
    rows = [row for row in found if row]
    gone = models.Ownership.objects.filter(client_id=client_id, exercise_id__in=exercise_ids)
    gone.exclude(exercise_id__in=[row.exercise_id for row in rows]).delete()
    models.Ownership.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["client", "exercise"],
        update_fields=["standing", "introduced_on", "last_on", "times", "clean_running"],
    )


def _ownership(
    client_id: UUID, exercise_id: str, history: Sequence[Entry], granted: Sequence[Granted], on: date
) -> models.Ownership | None:
    practised = [entry for entry in history if entry.is_practised]
    days = [entry.on for entry in practised] + [word.on for word in granted]
    if not days:
        return None
    # A log that is written ahead of its lesson's hour speaks of that day.
    stands = standing(history, on=max(on, *days), granted=granted)
    if stands is None:
        return None
    return models.Ownership(
        client_id=client_id,
        exercise_id=exercise_id,
        standing=stands.value,
        introduced_on=min(days),
        last_on=max(days),
        times=len(practised),
        clean_running=_clean_running(practised),
    )


def _clean_running(practised: Sequence[Entry]) -> int:
    run = 0
    for entry in practised:
        if entry.score is not None:
            run = run + 1 if entry.score >= CLEAN_SCORE else 0
    return run
