"""What a list of clients is compared with, and whether anything was done with the cards it made."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.apps import apps
from django.db.models import Field, QuerySet
from django.db.models.functions import Lower

from clients import models
from studio import models as studio_models
from studio.rules import Reason, Refused

FINISHED = Reason("finished", "This list was brought in or left already.", "import", "a new upload")
# What bringing in a list writes about each card, and what only reads one.
OWN_VERBS = ("import_client",)


@dataclass(frozen=True)
class ImportLine:
    """A list that was brought in; `has_rest` says that rows which were not can still be had."""

    id: UUID
    file_name: str
    state: str
    word: str
    good: int
    refused: int
    made_at: datetime
    made_by: str
    has_rest: bool


def open_import(import_id: UUID) -> models.ClientImport:
    """A list that is only looked at yet. Raises Refused `finished`, ClientImport.DoesNotExist."""
    found = models.ClientImport.objects.get(pk=import_id)
    if found.state != models.ClientImport.State.LOOKED_AT:
        raise Refused(FINISHED)
    return found


def imports(limit: int = 10) -> list[ImportLine]:
    """The lists of late, those that were left out."""
    rows = models.ClientImport.objects.exclude(state=models.ClientImport.State.LEFT).select_related("made_by")
    return [_line(row) for row in rows.order_by("-made_at")[:limit]]


def import_line(import_id: UUID) -> ImportLine:
    """One list. Raises ClientImport.DoesNotExist."""
    return _line(models.ClientImport.objects.select_related("made_by").get(pk=import_id))


def everybody() -> dict[UUID, tuple[str, str]]:
    """Name and address of every client who is here; one query."""
    rows = models.Client.objects.filter(archived_at=None).order_by("pk")
    return {key: (name, email or "") for key, name, email in rows.values_list("pk", "name", "contact__address")}


def contacts_at(emails: Collection[str]) -> dict[str, int]:
    """The contacts of these addresses (small letters), the oldest of each."""
    rows = studio_models.Contact.objects.annotate(small=Lower("address")).filter(small__in=list(emails))
    return dict(rows.order_by("-pk").values_list("small", "pk"))


def in_use(client_ids: Collection[UUID]) -> set[str]:
    """Names of the clients that any row of any table points at, or that somebody changed or read."""
    touched = set(
        studio_models.AuditEntry.objects.filter(client_key__in=client_ids)
        .exclude(verb__in=OWN_VERBS)
        .values_list("client_key", flat=True)
    )
    for field in _pointing(models.Client):
        rows = field.model._default_manager.filter(**{f"{field.name}__in": client_ids})
        touched |= set(rows.values_list(field.attname, flat=True))
    known = [key for key in touched if key is not None]
    return set(models.Client.objects.filter(pk__in=known).values_list("name", flat=True))


def contact_of_nobody(contact_id: int) -> QuerySet[studio_models.Contact]:
    """This contact, when nobody and nothing points at it any more; else none."""
    for field in _pointing(studio_models.Contact):
        if field.model._default_manager.filter(**{field.name: contact_id}).exists():
            return studio_models.Contact.objects.none()
    return studio_models.Contact.objects.filter(pk=contact_id)


def _pointing(target: type) -> "list[Field]":  # type: ignore[type-arg]
    return [
        field
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if field.is_relation and field.related_model is target
    ]


def _line(row: models.ClientImport) -> ImportLine:
    by = row.made_by.name if row.made_by else ""
    return ImportLine(
        id=row.pk,
        file_name=row.file_name,
        state=row.state,
        word=row.get_state_display().replace("_", " "),
        good=row.good,
        refused=row.refused,
        made_at=row.made_at,
        made_by=by,
        has_rest=bool(row.rows.get("rest")) if isinstance(row.rows, dict) else False,
    )
