"""Files that belong to a client: kept sealed with her key outside every served folder, and read through here only."""

import os
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from uuid import UUID, uuid4

from django.conf import settings
from django.db import transaction

from clients import models
from clients.actions import reading, seals
from clients.rules import files as rules
from clients.rules.sealing import SealBroken
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused

Kind = models.StoredFile.Kind
# A reason given when the letter was opened counts for its pages a while, so that it need not stand in an address.
REASON_COUNTS = timedelta(minutes=30)
OPEN_LETTER, OPEN_FILE = "read_letter", "read_file"


@dataclass(frozen=True)
class OpenedFile:
    """A file's content with its media type, and a name for it that names no person."""

    content: bytes
    media_type: str
    name: str


def keep(
    client: models.Client,
    *,
    kind: models.StoredFile.Kind,
    content: bytes,
    by: studio_models.Person | None,
    now: datetime,
    after: models.StoredFile | None = None,
    page: int = 1,
) -> models.StoredFile:
    """Check a file by its bytes and keep it sealed; `after` is the first page of the same letter.

    A picture is kept without its metadata. The client's row is locked by the caller. Raises Refused with the reason
    beside `file`.
    """
    taken = rules.portrait(content) if kind == Kind.PHOTOGRAPH else rules.letter_page(content)
    if isinstance(taken, Reason):
        raise Refused(taken)
    row = models.StoredFile(id=uuid4(), client=client, kind=kind, media_type=taken.media_type, made_by=by, made_at=now)
    row.size, row.first_page, row.page = len(taken.content), after, page
    row.save(force_insert=True)
    _write(path_of(row.pk), seals.sealed_file(taken.content, row=row, client=client))
    audit.wrote("keep_file", row, by=by, now=now, client_key=client.pk)
    return row


def read(file_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> OpenedFile:
    """Open a page of a letter for whoever may read this client's health, and record it; a photograph for the staff.

    Raises StoredFile.DoesNotExist when it is gone, and Refused as `read_limits` does.
    """
    with transaction.atomic():
        row = models.StoredFile.objects.select_related("client__home").get(pk=file_id, removed_at=None)
        subject, letter = _whose(row)
        if row.kind == Kind.LETTER:
            why = reading.allowed(subject, by=by, now=now, why=why or _reason_given(letter, by, now))
        audit.read(OPEN_FILE, row, by=by, now=now, client_key=subject.pk, why=why or row.kind)
        return _opened(row)


def remove(row: models.StoredFile, *, by: studio_models.Person | None, now: datetime) -> None:
    """Take a file away for good; its bytes go once this is committed."""
    row.removed_at = now
    row.save(update_fields=["removed_at"])
    audit.wrote("remove_file", row, by=by, now=now, client_key=row.client_id)
    transaction.on_commit(partial(_unlink, path_of(row.pk)))


def pages_of(first: models.StoredFile) -> list[models.StoredFile]:
    """All pages of a letter in their order."""
    return [first, *first.further_pages.filter(removed_at=None).order_by("page")]


def path_of(file_id: UUID) -> Path:
    folder: Path = settings.FILES_DIR
    return folder / str(file_id)[:2] / str(file_id)


def _opened(row: models.StoredFile) -> OpenedFile:
    try:
        blob = path_of(row.pk).read_bytes()
    except FileNotFoundError as gone:
        raise models.StoredFile.DoesNotExist from gone
    content = seals.opened_file(blob, row=row, client=row.client)
    if len(content) != row.size:
        raise SealBroken("not as long as it was when it was kept")
    name = f"{row.kind}-{row.made_at:%Y-%m-%d}-{row.page}.{rules.ENDINGS[row.media_type]}"
    return OpenedFile(content, row.media_type, name)


def _whose(row: models.StoredFile) -> tuple[models.Client, models.Letter | None]:
    """The client it is about now: after two cards were made one, the letter's and not the one it was sealed for."""
    first = row.first_page_id or row.pk
    letter = models.Letter.objects.select_related("client__home").filter(file=first).first()
    return (letter.client if letter else row.client), letter


def _reason_given(letter: models.Letter | None, by: studio_models.Person, now: datetime) -> str:
    if letter is None:
        return ""
    opened = studio_models.AuditEntry.objects.filter(
        model=letter._meta.label_lower, key=str(letter.pk), verb=OPEN_LETTER, person=by, at__gte=now - REASON_COUNTS
    )
    return opened.order_by("-at").values_list("why", flat=True).first() or ""


def _write(path: Path, blob: bytes) -> None:
    """Whole or not at all: a name that exists holds everything."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
        file.write(blob)
        file.flush()
        os.fsync(file.fileno())
    part.rename(path)


def _unlink(path: Path) -> None:
    path.unlink(missing_ok=True)
