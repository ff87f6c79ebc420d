"""Health words are sealed and opened here, and the master key is read nowhere else."""

import json
from datetime import date
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db.models import Model

from clients import models
from clients.rules import sealing
from studio.rules import Reason, Refused


def fresh_wrapped_key(client_id: UUID) -> bytes:
    """A new data key for a client, wrapped by the master key and bound to the client's row."""
    return sealing.wrap(sealing.new_data_key(), settings.HEALTH_KEY, _cell_of_key(client_id))


def sealed(words: Any, *, row: Model, column: str, client: models.Client) -> bytes:
    """Plain JSON values, sealed with the client's key for one cell of `row`."""
    text = json.dumps(words, separators=(",", ":"), default=_plain)
    return sealing.seal(_data_key(client), text, _cell(row, column))


def opened(row: Model, column: str, *, client: models.Client) -> Any:
    """The values sealed in a cell. Raises SealBroken when it was moved, changed or sealed for somebody else."""
    return json.loads(sealing.unseal(_data_key(client), getattr(row, column), _cell(row, column)))


def sealed_file(content: bytes, *, row: Model, client: models.Client) -> bytes:
    """A file's content, sealed with the client's key for its row."""
    return sealing.seal_bytes(_data_key(client), content, _cell(row, "content"))


def opened_file(blob: bytes, *, row: Model, client: models.Client) -> bytes:
    """The content again. Raises SealBroken as `opened` does."""
    return sealing.unseal_bytes(_data_key(client), blob, _cell(row, "content"))


def is_sealed_for(client: models.Client, blob: bytes) -> bool:
    """Whether a blob carries the mark of this client's key; nothing is opened."""
    return sealing.is_marked(bytes(blob), _data_key(client))


def sealed_anew(row: Model, column: str, *, was: models.Client, becomes: models.Client) -> bytes:
    """What a cell holds, sealed for another client; no word of it is handed out. Raises SealBroken."""
    content = sealing.unseal_bytes(_data_key(was), getattr(row, column), _cell(row, column))
    return sealing.seal_bytes(_data_key(becomes), content, _cell(row, column))


def mark(words: str, *, client: models.Client) -> str:
    """64 signs that tell equal words of one client apart from others, and nothing to anybody without her key."""
    return sealing.mark(_data_key(client), words)


def _plain(value: object) -> str:
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"not a plain value: {type(value).__name__}")


def rewrapped(client: models.Client) -> bytes | None:
    """The client's data key wrapped by the key of today; None when it is already. Raises SealBroken for neither key."""
    if sealing.is_marked(bytes(client.wrapped_key), settings.HEALTH_KEY):
        return None
    return sealing.wrap(_data_key(client), settings.HEALTH_KEY, _cell_of_key(client.pk))


def _data_key(client: models.Client) -> bytes:
    wrapped = bytes(client.wrapped_key)
    if not wrapped:
        raise Refused(Reason("erased", "This client's record was erased. There is nothing left to read or to add to."))
    masters = [settings.HEALTH_KEY, *settings.HEALTH_KEYS_BEFORE]
    # While the house changes its key, some clients' keys are still wrapped by the one before.
    master = next((one for one in masters if sealing.is_marked(wrapped, one)), settings.HEALTH_KEY)
    return sealing.unwrap(wrapped, master, _cell_of_key(client.pk))


def _cell(row: Model, column: str) -> str:
    return sealing.bound_to(row._meta.db_table, column, row.pk)


def _cell_of_key(client_id: UUID) -> str:
    return sealing.bound_to(models.Client._meta.db_table, "wrapped_key", client_id)
