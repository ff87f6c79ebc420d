"""A senior teacher's word that a client owns an exercise, or does not any more, with a reason and a way back."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients.actions import reading, seals
from clients.models import Client
from programming import models
from programming.actions import standings
from programming.queries import teachers
from programming.rules.levels import is_senior
from programming.rules.repertoire import exercise_from
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused

REASON_MOST = 300


def grant_exercise(
    client_id: UUID, *, exercise_id: str, owned: bool, reason: str, by: Person, now: datetime, why: str = ""
) -> models.Grant:
    """Say that she owns an exercise, or take ownership away; the log may speak after it.

    Raises Refused when `by` is not cleared for the upper levels there, or gives no reason, and as reading health does.
    """
    reason = " ".join(reason.split())
    with transaction.atomic():
        client = _locked(client_id)
        reading.allowed(client, by=by, now=now, why=why)
        exercise = models.Exercise.objects.get(pk=exercise_id)
        _check(exercise, reason, by)
        grant = models.Grant(client=client, exercise=exercise, owned=owned, by=by, at=now)
        grant.sealed_reason = seals.sealed(reason, row=grant, column="sealed_reason", client=client)
        grant.save(force_insert=True)
        standings.derive(client_id, [exercise_id], now=now)
        verb = "grant_exercise" if owned else "withdraw_exercise"
        audit.wrote(verb, grant, by=by, now=now, client_key=client_id)
    return grant


def take_back_grant(grant_id: UUID, *, by: Person, now: datetime, why: str = "") -> models.Grant:
    """Take a word back: what the log and earlier words say holds again. Taken back already, nothing changes."""
    with transaction.atomic():
        client = _locked(models.Grant.objects.values_list("client_id", flat=True).get(pk=grant_id))
        reading.allowed(client, by=by, now=now, why=why)
        grant = models.Grant.objects.select_related("exercise").get(pk=grant_id)
        if grant.taken_back_at is None:
            _check_senior(grant.exercise, by)
            grant.taken_back_at = now
            grant.save(update_fields=["taken_back_at"])
            standings.derive(client.pk, [grant.exercise_id], now=now)
            audit.wrote("take_back_grant", grant, by=by, now=now, client_key=client.pk)
    return grant


def _locked(client_id: UUID) -> Client:
    return Client.objects.select_for_update(of=("self",), no_key=True).select_related("home").get(pk=client_id)


def _check(exercise: models.Exercise, reason: str, by: Person) -> None:
    _check_senior(exercise, by)
    if not reason:
        raise Refused(Reason("missing", "Say why; it is kept sealed with your name.", "reason", "a few words"))
    if len(reason) > REASON_MOST:
        raise Refused(Reason("too_long", "That is too long.", "reason", f"at most {REASON_MOST} signs"))


def _check_senior(exercise: models.Exercise, by: Person) -> None:
    row = exercise_from(exercise.row)
    if not is_senior(teachers.levels_of(by.pk).get(row.apparatus, 0), row.level):
        says = f"A senior teacher of the {row.apparatus.value} grants and withdraws an exercise."
        raise Refused(Reason("not_senior", says, "reason", "ask somebody who teaches its upper levels"))
