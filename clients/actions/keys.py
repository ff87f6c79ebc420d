"""Changing the key of the house: every client's data key is wrapped anew, and no sealed word is touched."""

from dataclasses import dataclass, field
from uuid import UUID

from django.conf import settings
from django.db import transaction

from clients import models
from clients.actions import seals
from clients.rules import sealing

BATCH = 200


@dataclass
class Rewrapped:
    """How many clients' keys were wrapped anew, stood under the key of today already, or open with neither key."""

    anew: int = 0
    already: int = 0
    shut: list[UUID] = field(default_factory=list)
    last: UUID | None = None
    is_whole: bool = False


def rewrap_some(so_far: Rewrapped, *, batch: int = BATCH) -> Rewrapped:
    """The next clients in the order of their keys, in one transaction; `is_whole` when none is left.

    Stopped anywhere and begun again it goes over those that are done and changes nothing in them.
    """
    with transaction.atomic():
        held = models.Client.objects.select_for_update(no_key=True).exclude(wrapped_key=b"").order_by("pk")
        if so_far.last is not None:
            held = held.filter(pk__gt=so_far.last)
        clients = list(held.only("wrapped_key")[:batch])
        for client in clients:
            _rewrap(client, so_far)
    so_far.last = clients[-1].pk if clients else so_far.last
    so_far.is_whole = len(clients) < batch
    return so_far


def _rewrap(client: models.Client, counts: Rewrapped) -> None:
    try:
        fresh = seals.rewrapped(client)
    except sealing.SealBroken:
        counts.shut.append(client.pk)
        return
    if fresh is None:
        counts.already += 1
        return
    models.Client.objects.filter(pk=client.pk).update(wrapped_key=fresh)
    counts.anew += 1


def behind() -> int:
    """How many clients' keys do not carry the mark of the key of today."""
    mark = sealing.VERSION + sealing.key_mark(settings.HEALTH_KEY)
    kept = models.Client.objects.exclude(wrapped_key=b"").values_list("wrapped_key", flat=True)
    return sum(bytes(wrapped)[: sealing.HEAD_BYTES] != mark for wrapped in kept.iterator())
