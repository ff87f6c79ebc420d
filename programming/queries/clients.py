"""Where a client stands with the repertoire."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from clients.models import Consent, Review
from programming import models
from programming.rules.marks import Standing


@dataclass(frozen=True)
class Known:
    """Exercise ids this client has met, and those she owns."""

    met: frozenset[str]
    owned: frozenset[str]


def known_by(client_id: UUID) -> Known:
    rows = models.Ownership.objects.filter(client_id=client_id).values_list("exercise_id", "standing")
    standings = dict(rows)
    owned = frozenset(key for key, standing in standings.items() if standing == Standing.OWNED)
    return Known(frozenset(standings), owned)


@dataclass(frozen=True)
class NextReview:
    """An open review of a client: due on the day or after so many lessons more, whichever comes first."""

    id: UUID
    kind: str
    due_on: date
    visits_left: int
    is_due: bool


def reviews_of(client_id: UUID, *, on: date) -> list[NextReview]:
    """Her open reviews, soonest first; one query."""
    rows = Review.objects.filter(client_id=client_id, done_at=None).select_related("client").order_by("due_on", "kind")
    return [
        NextReview(
            id=row.pk,
            kind=row.get_kind_display(),
            due_on=row.due_on,
            visits_left=max(0, row.due_visits - row.client.visits),
            is_due=row.due_on <= on or row.due_visits <= row.client.visits or row.raised_at is not None,
        )
        for row in rows
    ]


def touch_agreed_on(client_id: UUID) -> datetime | None:
    """When the client agreed to guiding touch; None when she did not, or took it back."""
    open_consents = Consent.objects.filter(client_id=client_id, kind=Consent.Kind.TOUCH, withdrawn_at=None)
    return open_consents.values_list("given_at", flat=True).first()
