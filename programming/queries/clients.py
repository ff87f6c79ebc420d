"""Where a client stands with the repertoire."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from clients.models import Consent, Review
from programming import models
from programming.rules.marks import Mark, Standing
from programming.rules.progress import Entry


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


def histories(client_id: UUID, exercise_ids: Collection[str]) -> dict[str, list[Entry]]:
    """The finished log of each exercise, oldest first; one query, whatever the number."""
    rows = (
        models.LogLine.objects.filter(
            log__program__client_id=client_id,
            log__finished_at__isnull=False,
            program_line__exercise_id__in=exercise_ids,
        )
        .order_by("log__started_at", "program_line__position")
        .values_list("program_line__exercise_id", "log__started_at", "mark", "score")
    )
    found: dict[str, list[Entry]] = {key: [] for key in exercise_ids}
    for key, started, mark, score in rows:
        found[key].append(Entry(on=started.date(), mark=Mark(mark), score=score))
    return found


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
