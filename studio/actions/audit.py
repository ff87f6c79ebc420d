"""The one place that writes an audit row."""

import json
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.models import Model

from studio import models

# Written by hand: every write and every read of sealed words adds a row, and nobody needs the object.
ADD = """
    INSERT INTO studio_auditentry (at, kind, person_id, actor, verb, model, key, client_key, why, detail)
    VALUES (%(at)s, %(kind)s, %(person)s, %(actor)s, %(verb)s, %(model)s, %(key)s, %(client)s, %(why)s, %(detail)s)
"""


def wrote(
    verb: str,
    row: Model,
    *,
    by: models.Person | None,
    now: datetime,
    actor: str = "",
    client_key: UUID | None = None,
    why: str = "",
    detail: dict[str, Any] | None = None,
) -> None:
    """Record that `row` was written. `actor` says who acted when it was nobody on the staff."""
    _add("write", verb, row, by, now, actor, client_key, why, detail)


def read(
    verb: str, row: Model, *, by: models.Person | None, now: datetime, client_key: UUID, why: str = "", actor: str = ""
) -> None:
    """Record that sealed words of `row` were opened."""
    _add("read", verb, row, by, now, actor, client_key, why, None)


def _add(
    kind: str,
    verb: str,
    row: Model,
    by: models.Person | None,
    now: datetime,
    actor: str,
    client_key: UUID | None,
    why: str,
    detail: dict[str, Any] | None,
) -> None:
    given: dict[str, Any] = {
        "at": now,
        "kind": kind,
        "person": by and by.pk,
        "actor": actor,
        "verb": verb,
        "model": row._meta.label_lower,
        "key": str(row.pk),
        "client": client_key,
        "why": why[:200],
        "detail": json.dumps(detail or {}),
    }
    with connection.cursor() as cursor:
        cursor.execute(ADD, given)
