"""Rule V1 set aside for one client and exercise: an equivalent was seen, by whom, when and why."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients.actions import reading, seals
from clients.models import Client
from programming import models
from programming.queries import repertoire
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused

COLUMN = "sealed_reason"
REASON_MOST = 300


@dataclass(frozen=True)
class WaiverLine:
    """A waiver in words, its reason opened; `equivalent` is empty when none was named."""

    id: UUID
    exercise: str
    equivalent: str
    reason: str
    by: str
    at: datetime


def waive(
    client_id: UUID,
    exercise_id: str,
    *,
    reason: str,
    by: Person,
    now: datetime,
    equivalent_id: str = "",
    why: str = "",
) -> models.Waiver:
    """Let this client do an exercise whose prerequisites are not owned, because an equivalent was seen.

    Waived already: the standing waiver. Raises Refused without a reason, for an exercise without prerequisites, for an
    equivalent that is the exercise itself or not practised here, and as reading limits does.
    """
    with transaction.atomic():
        client = Client.objects.select_for_update(of=("self",), no_key=True).select_related("home").get(pk=client_id)
        reading.allowed(client, by=by, now=now, why=why)
        standing = models.Waiver.objects.filter(client=client, exercise=exercise_id, taken_back_at=None).first()
        if standing is not None:
            return standing
        words = " ".join(reason.split())
        _check(exercise_id, equivalent_id, words)
        row = models.Waiver(
            client=client, exercise_id=exercise_id, equivalent_id=equivalent_id or None, by=by, at=now
        )  # fmt: skip
        row.sealed_reason = seals.sealed(words, row=row, column=COLUMN, client=client)
        row.save(force_insert=True)
        audit.wrote("waive", row, by=by, now=now, client_key=client.pk)
    return row


def take_back_waiver(waiver_id: UUID, *, by: Person, now: datetime, why: str = "") -> models.Waiver:
    """The prerequisites count again from now on; programs fitted with the waiver say so when they are opened."""
    with transaction.atomic():
        client_id = models.Waiver.objects.values_list("client_id", flat=True).get(pk=waiver_id)
        client = Client.objects.select_for_update(of=("self",), no_key=True).select_related("home").get(pk=client_id)
        reading.allowed(client, by=by, now=now, why=why)
        row = models.Waiver.objects.get(pk=waiver_id)
        if row.taken_back_at is None:
            row.taken_back_at = now
            row.save(update_fields=["taken_back_at"])
            audit.wrote("take_back_waiver", row, by=by, now=now, client_key=client.pk)
    return row


def read_waivers(client_id: UUID, *, by: Person, now: datetime, why: str = "") -> tuple[WaiverLine, ...]:
    """The waivers in force, newest first, each reading on record. Raises Refused as reading limits does."""
    with transaction.atomic():
        client = Client.objects.select_related("home").get(pk=client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        rows = models.Waiver.objects.filter(client=client, taken_back_at=None).select_related("by").order_by("-at")
        named = repertoire.known_exercises({key for row in rows for key in (row.exercise_id, row.equivalent_id) if key})
        lines = []
        for row in rows:
            audit.read("read_waiver", row, by=by, now=now, client_key=client.pk, why=why)
            reason = seals.opened(row, COLUMN, client=client) if row.sealed_reason else ""
            equivalent = named[row.equivalent_id].name if row.equivalent_id else ""
            name = row.by.name if row.by else ""
            lines.append(WaiverLine(row.pk, named[row.exercise_id].name, equivalent, reason, name, row.at))
    return tuple(lines)


def _check(exercise_id: str, equivalent_id: str, reason: str) -> None:
    practised = repertoire.exercises()
    if exercise_id not in practised:
        raise Refused(Reason("unknown_exercise", "That exercise is not practised here.", "exercise"))
    if not practised[exercise_id].prerequisites:
        says = f"{practised[exercise_id].name} asks for nothing first, so there is nothing to waive."
        raise Refused(Reason("nothing_to_waive", says, "exercise"))
    if equivalent_id and (equivalent_id == exercise_id or equivalent_id not in practised):
        raise Refused(Reason("equivalent", "Choose another exercise that is practised here.", "equivalent"))
    if not reason or len(reason) > REASON_MOST:
        says = "What did you see? A few words are kept with your name."
        raise Refused(Reason("reason", says, "reason", f"1 to {REASON_MOST} letters"))
