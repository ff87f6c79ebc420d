"""Who cares for a client and may read her health; how far she may go on each kind of apparatus."""

from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from clients import models, queries
from studio import models as studio_models
from studio.actions import audit
from studio.rules import ApparatusKind, Reason, Refused

# One statement, so that two who give it at once both succeed; a row that was there already carries who updated it.
GIVE = """
    INSERT INTO clients_care (person_id, client_id, first_day, last_day, why, source)
    VALUES (%(person)s, %(client)s, %(first)s, %(last)s, %(why)s, %(source)s)
    ON CONFLICT (person_id, client_id, source)
    DO UPDATE SET first_day = excluded.first_day, last_day = excluded.last_day, why = excluded.why
    RETURNING id, xmax = 0
"""


def give_care(
    *,
    person: studio_models.Person,
    client: models.Client,
    first_day: date,
    last_day: date | None,
    why: str,
    source: str,
    now: datetime,
) -> models.Care:
    """Let `person` read the client's health on these local days; again from the same source moves the days."""
    care = models.Care(
        person=person, client=client, first_day=first_day, last_day=last_day, why=why[:120], source=source
    )
    given: dict[str, Any] = {
        "person": person.pk,
        "client": client.pk,
        "first": first_day,
        "last": last_day,
        "why": care.why,
    }
    with connection.cursor() as cursor:
        cursor.execute(GIVE, given | {"source": source})
        care.pk, is_new = cursor.fetchone()
    verb = "give_care" if is_new else "move_care"
    audit.wrote(verb, care, by=person, now=now, client_key=client.pk, why=care.why)
    return care


def take_back_care(*, source: str, now: datetime) -> int:
    """End all care that came from `source`; the number of rows taken back."""
    with transaction.atomic():
        cares = list(models.Care.objects.select_for_update().filter(source=source).select_related("person"))
        for care in cares:
            audit.wrote("take_back_care", care, by=care.person, now=now, client_key=care.client_id, why=care.why)
            care.delete()
    return len(cares)


def sign_level(
    client_id: UUID, *, kind: str, level: int, by: studio_models.Person, now: datetime
) -> models.LevelCeiling:
    """Sign the highest level (1 to 5) a client may be booked for on a kind of apparatus. Raises Refused."""
    if kind not in set(ApparatusKind):
        kinds = ", ".join(ApparatusKind)
        raise Refused(Reason("unknown_kind", "There is no such kind of apparatus.", field="kind", allowed=kinds))
    if not 1 <= level <= 5:
        raise Refused(Reason("level_range", "A level is 1 to 5.", field="level", allowed="1 to 5"))
    with transaction.atomic():
        client = models.Client.objects.select_for_update().get(pk=client_id)
        ceiling, _ = models.LevelCeiling.objects.update_or_create(
            client=client,
            apparatus_kind=str(kind),
            defaults={"level": level, "signed_by": by, "signed_on": queries.day_of(now, client)},
        )
        detail = {"kind": str(kind), "level": level}
        audit.wrote("sign_level", ceiling, by=by, now=now, client_key=client_id, detail=detail)
    return ceiling
