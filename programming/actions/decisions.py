"""A teacher decides what the log proposed for an exercise: advance, repeat or step back. It can be taken back."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients.actions import reading
from clients.models import Client
from programming import models
from programming.actions import telling
from programming.queries import decisions as decision_queries
from programming.queries import histories as history_queries
from programming.rules.progress import Step, proposal
from programming.rules.repertoire import exercise_from
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused


def decide_step(
    client_id: UUID, *, exercise_id: str, decided: Step, by: Person, now: datetime, why: str = ""
) -> models.StepDecision:
    """Decide what comes next with an exercise; what the log had proposed is kept beside it.

    Raises Refused when nothing was logged since the last decision, and as reading health does.
    """
    with transaction.atomic():
        rows = Client.objects.select_for_update(of=("self",), no_key=True).select_related("home")
        client = rows.get(pk=client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        exercise = models.Exercise.objects.get(pk=exercise_id)
        proposed = _proposed(client, exercise, by, now, why)
        row = models.StepDecision.objects.create(
            client=client, exercise=exercise, proposed=proposed.value, decided=decided.value, by=by, at=now
        )
        audit.wrote("decide_step", row, by=by, now=now, client_key=client_id, detail={"decided": decided.value})
    return row


def take_back_step(decision_id: UUID, *, by: Person, now: datetime, why: str = "") -> models.StepDecision:
    """The proposal is open again. Taken back already, nothing changes. Raises Refused as `decide_step` does."""
    with transaction.atomic():
        row = models.StepDecision.objects.select_for_update(of=("self",)).select_related("client__home")
        found = row.get(pk=decision_id)
        reading.allowed(found.client, by=by, now=now, why=why)
        if found.taken_back_at is None:
            found.taken_back_at = now
            found.save(update_fields=["taken_back_at"])
            audit.wrote("take_back_step", found, by=by, now=now, client_key=found.client_id)
    return found


def _proposed(client: Client, exercise: models.Exercise, by: Person, now: datetime, why: str) -> Step:
    lines = history_queries.marked_lines(client.pk, exercise_ids=[exercise.pk])
    audit.read("read_felts", client, by=by, now=now, client_key=client.pk, why=why)
    felts = telling.felts([line.id for line in lines if line.is_felt], client)
    practices = history_queries.practices(lines, felts).get(exercise.pk, [])
    last = decision_queries.last_decisions(client.pk).get(exercise.pk)
    found = proposal(
        [one.entry for one in decision_queries.counted(practices, last)], level=exercise_from(exercise.row).level
    )
    if found is None:
        says = f"{last.by} has decided this already." if last else "Nothing of it has been logged yet."
        allowed = "take that decision back first" if last else "a lesson with it"
        raise Refused(Reason("nothing_to_decide", says, "decided", allowed))
    return found.step
