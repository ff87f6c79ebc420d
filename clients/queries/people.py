"""Finding clients and reading their cards; no health word is on any of them."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.contrib.postgres.search import TrigramSimilarity
from django.db.models import Q, QuerySet

from clients import models
from clients.rules.names import alike, name_key

# Wide enough for two neighbouring letters swapped in a short name; `alike` has the last word.
FAINTLY_ALIKE = 0.15
SHORTEST_PHONE = 3


@dataclass(frozen=True)
class ClientRow:
    """A client in a list."""

    id: UUID
    name: str
    say_it: str
    pronoun: str
    phone: str
    email: str
    born_on: date | None
    last_visit: date | None


@dataclass(frozen=True)
class ClientCard:
    """What everyone at the desk may see of a client."""

    id: UUID
    name: str
    say_it: str
    pronoun: str
    born_on: date | None
    guardian_name: str
    email: str
    phone: str
    emergency_name: str
    emergency_phone: str
    notes: str
    usual_instructor: str
    home_id: int | None
    home: str
    visits: int
    last_visit: date | None
    made_at: datetime
    made_by: str


def find(text: str, limit: int = 12) -> list[ClientRow]:
    """Clients with every word of `text` in the name (accents or not), or with it in the phone or e-mail; by name."""
    text = text[:120].replace("\x00", "").strip()
    words = name_key(text).split()
    if not words:
        return []
    by_name = Q()
    for word in words[:8]:
        by_name &= Q(name_key__contains=word)
    digits = "".join(sign for sign in text if sign.isdigit())
    by_phone = Q(phone__contains=text[:40])
    if len(digits) >= SHORTEST_PHONE:
        by_phone |= Q(phone__regex=r"[^0-9]*".join(digits[:20]))
    return _rows(_here().filter(by_name | by_phone | Q(contact__address__icontains=text)), limit)


def newest(limit: int = 12) -> list[ClientRow]:
    """The cards written last."""
    return _rows(_here(), limit, order="-made_at")


def page_of(*, after: UUID | None, limit: int) -> list[ClientRow]:
    """Clients in the order of their ids, from behind `after`: a stable way through all of them."""
    rows = _here().filter(pk__gt=after) if after else _here()
    return _rows(rows, limit, order="pk")


def look_alikes(name: str, email: str) -> list[ClientRow]:
    """Clients who may be this very person: a name alike, or the same address."""
    key = name_key(name)
    near = _here().annotate(nearness=TrigramSimilarity("name_key", key))
    near = near.filter(Q(name_key=key) | Q(nearness__gte=FAINTLY_ALIKE) | _same_address(email))
    found = _rows(near, 500)
    same = email.casefold()
    return [row for row in found if alike(row.name, name) or (same and row.email.casefold() == same)][:12]


def card(client_id: UUID) -> ClientCard:
    """One client's card. Raises Client.DoesNotExist."""
    row = models.Client.objects.select_related("contact", "usual_instructor", "home", "made_by").get(pk=client_id)
    return ClientCard(
        id=row.pk,
        name=row.name,
        say_it=row.say_it,
        pronoun=row.pronoun,
        born_on=row.born_on,
        guardian_name=row.guardian_name,
        email=row.contact.address if row.contact else "",
        phone=row.phone,
        emergency_name=row.emergency_name,
        emergency_phone=row.emergency_phone,
        notes=row.notes,
        usual_instructor=row.usual_instructor.name if row.usual_instructor else "",
        home_id=row.home_id,
        home=row.home.name if row.home else "",
        visits=row.visits,
        last_visit=row.last_visit,
        made_at=row.made_at,
        made_by=row.made_by.name if row.made_by else "",
    )


def client_of_condition(record_id: UUID) -> UUID:
    """Whose condition this is. Raises ConditionRecord.DoesNotExist."""
    return models.ConditionRecord.objects.values_list("client_id", flat=True).get(pk=record_id)


def count() -> int:
    return _here().count()


def _here() -> QuerySet[models.Client]:
    return models.Client.objects.filter(archived_at=None)


def _same_address(email: str) -> Q:
    return Q(contact__address__iexact=email) if email else Q(pk=None)


def _rows(clients: QuerySet[models.Client], limit: int, order: str = "name_key") -> list[ClientRow]:
    return [_row(client) for client in clients.select_related("contact").order_by(order, "pk")[:limit]]


def _row(client: models.Client) -> ClientRow:
    return ClientRow(
        id=client.pk,
        name=client.name,
        say_it=client.say_it,
        pronoun=client.pronoun,
        phone=client.phone,
        email=client.contact.address if client.contact else "",
        born_on=client.born_on,
        last_visit=client.last_visit,
    )
