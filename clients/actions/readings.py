"""Readings at rest taken by the studio: kept sealed, repeated after a rest, struck when mistyped; each screens anew."""

from dataclasses import asdict, dataclass, replace
from datetime import datetime
from uuid import UUID, uuid4

from django.db import transaction

from clients import models, queries
from clients.actions import facts, locks, reading, screening, seals
from clients.rules import readings as rules
from clients.rules.facts import Pressure
from clients.rules.readings import Sitting
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused


@dataclass(frozen=True)
class Taken:
    """The sitting that was kept, and the screening that followed (None while no form is signed)."""

    reading_id: UUID
    screening: models.Screening | None


def record_readings(
    client_id: UUID, *, sitting: Sitting, by: studio_models.Person, now: datetime, why: str = ""
) -> Taken:
    """Keep one sitting's readings and screen anew.

    What cannot be, or is rare and not said to be sure, comes back as a question: Refused `cannot_be`, `sure`,
    `nothing_taken`. Raises Refused as `read_limits` does.
    """
    with transaction.atomic():
        client = locks.client(client_id)
        reading.allowed(client, by=by, now=now, why=why)
        if asked := rules.doubts(sitting):
            raise Refused(asked)
        row = models.RestReading(id=uuid4(), client=client, taken_at=now, taken_by=by)
        _seal(row, sitting, client=client)
        row.save(force_insert=True)
        audit.wrote("record_readings", row, by=by, now=now, client_key=client.pk)
        return Taken(row.pk, screening.screen_again(client, asked_for="reading", by=by, now=now))


def repeat_reading(
    reading_id: UUID,
    *,
    pressure: Pressure,
    is_sure: bool = False,
    by: studio_models.Person,
    now: datetime,
    why: str = "",
) -> Taken:
    """One more pressure of the same sitting, after the rest of five minutes, and screen anew.

    Raises Refused `too_soon`, `another_sitting` after an hour or when it was struck, `enough`, and as
    `record_readings` does.
    """
    with transaction.atomic():
        client_id = models.RestReading.objects.values_list("client_id", flat=True).get(pk=reading_id)
        client = locks.client(client_id)
        reading.allowed(client, by=by, now=now, why=why)
        row = client.rest_readings.get(pk=reading_id)
        sitting = facts.sitting_of(row, client=client)
        if refusal := _why_no_repeat(row, sitting, client, now):
            raise Refused(refusal)
        if asked := rules.doubts(Sitting(pressures=(pressure,), is_sure=is_sure)):
            raise Refused(asked)
        _seal(row, replace(sitting, pressures=(*sitting.pressures, pressure)), client=client)
        row.save(update_fields=["sealed_values"])
        audit.wrote("repeat_reading", row, by=by, now=now, client_key=client.pk)
        return Taken(row.pk, screening.screen_again(client, asked_for="reading", by=by, now=now))


def strike_readings(
    reading_id: UUID, *, by: studio_models.Person, now: datetime, why: str = ""
) -> models.Screening | None:
    """A sitting was mistyped: it stays on file, no rule reads it any more, and the client is screened anew.

    Struck already: None, and nothing changes. Raises Refused as `read_limits` does.
    """
    with transaction.atomic():
        client_id = models.RestReading.objects.values_list("client_id", flat=True).get(pk=reading_id)
        client = locks.client(client_id)
        reading.allowed(client, by=by, now=now, why=why)
        row = client.rest_readings.get(pk=reading_id)
        if row.struck_at is not None:
            return None
        row.struck_at, row.struck_by = now, by
        row.save(update_fields=["struck_at", "struck_by"])
        audit.wrote("strike_readings", row, by=by, now=now, client_key=client.pk)
        return screening.screen_again(client, asked_for="reading", by=by, now=now)


def _seal(row: models.RestReading, sitting: Sitting, *, client: models.Client) -> None:
    values = asdict(sitting) | {"pressures": [[pair.systolic, pair.diastolic] for pair in sitting.pressures]}
    del values["is_sure"]
    row.sealed_values = seals.sealed(values, row=row, column="sealed_values", client=client)


def _why_no_repeat(row: models.RestReading, sitting: Sitting, client: models.Client, now: datetime) -> Reason | None:
    rested = now - row.taken_at
    if row.struck_at is not None or rested > rules.ONE_SITTING:
        says = "That sitting is over. Please take the readings anew."
        return Reason("another_sitting", says, field="systolic_1", allowed="a new sitting")
    if rested < rules.REST:
        clock = queries.clock_of(row.taken_at + rules.REST, client)
        says = f"Let five minutes pass, seated and quiet: measure again from {clock}."
        return Reason("too_soon", says, field="systolic_1", allowed=f"from {clock}")
    if len(sitting.pressures) >= rules.MOST_READINGS:
        return Reason("enough", "That is enough for one sitting.", field="systolic_1", allowed="a new sitting")
    return None
