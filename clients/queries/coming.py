"""What the days will change for clients, by kind and day only; the words are sealed and opened by an action."""

from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Q

from clients import models
from studio import models as studio_models

KINDS = {
    "begins": "a limit begins",
    "window_ends": "a window ends",
    "letter_ends": "a letter ends",
    "form_ends": "the form ends",
}
IS_OVER = "a window is over"


@dataclass(frozen=True)
class ComingRow:
    """A change that comes, or a window that has ended and waits for somebody's name (`is_waiting`)."""

    client_id: UUID
    client_name: str
    kind: str
    day: date
    is_waiting: bool
    is_cared_for: bool


def coming_of(person: studio_models.Person, *, on: date, limit: int = 40) -> list[ComingRow]:
    """What comes for the clients an instructor cares for on a local day or who usually come to her; the next first.

    One query. `is_cared_for` says that she may read what it is without giving a reason.
    """
    cared_for = models.Care.objects.on(on).filter(person=person).values("client_id")
    hers = Q(client_id__in=cared_for) | Q(client__usual_instructor=person)
    rows = models.Coming.objects.filter(hers, gone_at=None, client__archived_at=None)
    rows = rows.annotate(is_cared_for=Q(client_id__in=cared_for)).order_by("day", "client__name_key", "pk")
    columns = ("client_id", "client__name", "kind", "day", "is_cared_for")
    found = rows.values_list(*columns)[:limit]
    return [_row(client_id, name, kind, day, on, cared) for client_id, name, kind, day, cared in found]


def _row(client_id: UUID, name: str, kind: str, day: date, on: date, is_cared_for: bool) -> ComingRow:
    is_waiting = kind == models.Coming.Kind.WINDOW_ENDS and day <= on
    return ComingRow(client_id, name, IS_OVER if is_waiting else KINDS[kind], day, is_waiting, is_cared_for)


def client_of_restriction(restriction_id: UUID) -> UUID:
    """Whose restriction this is. Raises Restriction.DoesNotExist."""
    return models.Restriction.objects.values_list("client_id", flat=True).get(pk=restriction_id)


def client_of_reading(reading_id: UUID) -> UUID:
    """Whose readings these are. Raises RestReading.DoesNotExist."""
    return models.RestReading.objects.values_list("client_id", flat=True).get(pk=reading_id)
