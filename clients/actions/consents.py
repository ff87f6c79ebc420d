"""What a client agrees to, noted with a name and an instant, and taken back at any time."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients import models, queries
from clients.actions import locks, photographs
from clients.rules import consents as rules
from studio import models as studio_models
from studio.actions import audit, notices
from studio.rules import Refused


def give_consent(
    client_id: UUID,
    *,
    kind: str,
    given_by: str,
    by: studio_models.Person | None,
    now: datetime,
    form: models.HealthForm | None = None,
) -> models.Consent:
    """Note that a client (a minor's guardian) agreed, by her own form or as told to `by`.

    Given again on a later day, the earlier row is closed and a new one dated; on the same day nothing changes.
    Raises Refused `unknown_kind`, `missing`, `too_long`, `guardian_gives`.
    """
    with transaction.atomic():
        client = locks.client(client_id)
        today = queries.day_of(now, client)
        name = " ".join(given_by.replace("\x00", "").split())
        if reasons := rules.refusals(rules.Giving(kind, client.name, client.born_on, name, today)):
            raise Refused(reasons)
        held = client.consents.filter(kind=kind, withdrawn_at=None).first()
        if held is not None and queries.day_of(held.given_at, client) >= today:
            return held
        if held is not None:
            held.withdrawn_at = now
            held.save(update_fields=["withdrawn_at"])
        given = client.consents.create(kind=kind, given_at=now, given_by=name, form=form, noted_by=by)
        audit.wrote("give_consent", given, by=by, now=now, client_key=client.pk, detail={"kind": kind})
    return given


def withdraw_consent(
    client_id: UUID, *, kind: str, by: studio_models.Person | None, now: datetime
) -> models.Consent | None:
    """Take a consent back: it stands no longer from this instant. Not given, or taken back already: None.

    Reminders that nobody has been sent yet go with the consent to messages, the photograph with that to photographs.
    """
    with transaction.atomic():
        client = locks.client(client_id)
        held = client.consents.filter(kind=kind, withdrawn_at=None).first()
        if held is None:
            return None
        held.withdrawn_at, held.withdrawal_noted_by = now, by
        held.save(update_fields=["withdrawn_at", "withdrawal_noted_by"])
        if kind == rules.ConsentKind.MESSAGES:
            notices.withdraw_leave(rests_on=queries.leave_for_messages(client.pk))
        if kind == rules.ConsentKind.PHOTOGRAPHS:
            for card in (client, *client.merged.select_for_update(of=("self",)).select_related("photograph")):
                photographs.remove(card, by=by, now=now)
        audit.wrote("withdraw_consent", held, by=by, now=now, client_key=client.pk, detail={"kind": kind})
    return held
