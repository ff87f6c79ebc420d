"""Reviews that are due."""

from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import F, Q

from clients import models
from studio import models as studio_models


@dataclass(frozen=True)
class ReviewRow:
    """An open review: its kind in words, the day and the count of lessons it is due at, and whose it is."""

    id: UUID
    client_id: UUID
    client_name: str
    kind: str
    due_on: date
    visits_left: int
    is_raised: bool
    instructor: str
    days_over: int


def open_reviews(*, on: date, person: studio_models.Person | None = None, limit: int = 60) -> list[ReviewRow]:
    """Reviews due on a local day by days or by lessons, oldest first; of the clients of one instructor, or of all.

    Her clients are those who usually come to her and those she has care of on the day.
    """
    due = Q(due_on__lte=on) | Q(due_visits__lte=F("client__visits")) | Q(raised_at__isnull=False)
    reviews = models.Review.objects.filter(due, done_at=None, client__archived_at=None)
    if person is not None:
        cared_for = models.Care.objects.on(on).filter(person=person).values("client_id")
        reviews = reviews.filter(Q(client__usual_instructor=person) | Q(client_id__in=cared_for))
    rows = reviews.select_related("client__usual_instructor").order_by("due_on", "client__name_key", "pk")[:limit]
    return [_row(review, on) for review in rows]


def _row(review: models.Review, on: date) -> ReviewRow:
    client = review.client
    return ReviewRow(
        id=review.pk,
        client_id=client.pk,
        client_name=client.name,
        kind=review.get_kind_display(),
        due_on=review.due_on,
        visits_left=max(0, review.due_visits - client.visits),
        is_raised=review.raised_at is not None,
        instructor=client.usual_instructor.name if client.usual_instructor else "",
        days_over=max(0, (on - review.due_on).days),
    )
