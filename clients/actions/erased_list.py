"""The list of erased clients, kept outside the database: a restored older backup finds here whom to erase again."""

import json
import os
from collections.abc import Iterator
from datetime import datetime
from uuid import UUID

from django.conf import settings


def add(client_ids: list[UUID], *, now: datetime) -> None:
    """Write the keys, and be sure that they are on the disk. Raises OSError."""
    path = settings.ERASED_LIST
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    lines = "".join(json.dumps({"client": str(one), "at": now.isoformat()}) + "\n" for one in client_ids)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600), "w") as handle:
        handle.write(lines)
        handle.flush()
        os.fsync(handle.fileno())


def read() -> list[UUID]:
    """Every key on the list, in the order they were erased. A line that was cut off was never answered for."""
    if not settings.ERASED_LIST.exists():
        return []
    with settings.ERASED_LIST.open(encoding="utf-8") as handle:
        return list(dict.fromkeys(key for line in handle for key in _key(line)))


def _key(line: str) -> Iterator[UUID]:
    try:
        yield UUID(json.loads(line)["client"])
    except (ValueError, KeyError, TypeError):
        return
