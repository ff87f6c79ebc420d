"""The photograph on a client's card: kept while she agrees to it, and gone when she does not."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients import models, queries
from clients.actions import files
from studio import models as studio_models
from studio.rules import Reason, Refused

PHOTOGRAPHS = models.Consent.Kind.PHOTOGRAPHS


def keep_photograph(client_id: UUID, *, content: bytes, by: studio_models.Person, now: datetime) -> models.StoredFile:
    """Put a photograph on the card, cut square, in place of the one before.

    Raises Refused `no_consent`, or with the reason beside `file`.
    """
    with transaction.atomic():
        client = _locked(client_id)
        if queries.open_consent(client.pk, PHOTOGRAPHS) is None:
            says = "The client has not agreed to a photograph. Ask first, and note the answer on the card."
            raise Refused(Reason("no_consent", says, "file"))
        kept = files.keep(client, kind=files.Kind.PHOTOGRAPH, content=content, by=by, now=now)
        before, client.photograph = client.photograph, kept
        client.save(update_fields=["photograph"])
        if before is not None:
            files.remove(before, by=by, now=now)
    return kept


def remove(client: models.Client, *, by: studio_models.Person | None, now: datetime) -> bool:
    """Take the photograph off a card and away for good; whether there was one. The row is locked by the caller."""
    gone = client.photograph
    if gone is None:
        return False
    client.photograph = None
    client.save(update_fields=["photograph"])
    files.remove(gone, by=by, now=now)
    return True


def remove_photograph(client_id: UUID, *, by: studio_models.Person, now: datetime) -> bool:
    """The same for a card by its key."""
    with transaction.atomic():
        return remove(_locked(client_id), by=by, now=now)


def _locked(client_id: UUID) -> models.Client:
    return models.Client.objects.select_for_update(of=("self",)).select_related("photograph").get(pk=client_id)
