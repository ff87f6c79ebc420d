"""The same intent is done once: key and answer are kept in the transaction of the deed."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from studio import models
from studio.rules import Reason, Refused


def run_once(
    *,
    person: models.Person,
    key: str,
    digest: str,
    act: Callable[[datetime], tuple[int, dict[str, Any]]],
    now: datetime,
) -> tuple[int, dict[str, Any]]:
    """Run `act` unless this person's `key` was answered before; then give that answer again.

    Raises Refused when the key was used for another request. A refusal inside `act` keeps nothing, so that the same
    key may be tried again.
    """
    if len(key) > 80:
        raise Refused(Reason("key_too_long", "An idempotency key has at most 80 characters."))
    with transaction.atomic():
        kept = _take(person, key, digest, now)
        if kept.request_digest != digest:
            raise Refused(Reason("key_used", "That idempotency key was used for another request.", allowed="a new key"))
        if kept.status is not None:
            return kept.status, kept.answer or {}
        status, answer = act(now)
        kept.status, kept.answer = status, answer
        kept.save(update_fields=["status", "answer"])
        return status, answer


def _take(person: models.Person, key: str, digest: str, now: datetime) -> models.IdempotencyKey:
    """The key's row, locked: a second request with it waits until the first is answered."""
    try:
        with transaction.atomic():
            return models.IdempotencyKey.objects.create(person=person, key=key, request_digest=digest, made_at=now)
    except IntegrityError:
        return models.IdempotencyKey.objects.select_for_update().get(person=person, key=key)
