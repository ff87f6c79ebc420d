"""Who cares for a client and may read her health; how far she may go on each kind of apparatus."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from clients import models, queries
from studio import models as studio_models
from studio.actions import audit
from studio.rules import ApparatusKind, Reason, Refused


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
    days = {"first_day": first_day, "last_day": last_day, "why": why[:120]}
    key = {"person": person, "client": client, "source": source}
    if models.Care.objects.filter(**key).update(**days):
        verb, care = "move_care", models.Care.objects.get(**key)
    else:
        verb, care = "give_care", models.Care(**key, **days)
        # Two who give it at once both succeed, without a savepoint.
        models.Care.objects.bulk_create([care], update_conflicts=True, unique_fields=[*key], update_fields=[*days])
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
