"""Visits counted once each, and the reviews that fall due by them or by weeks."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import F, Q

from clients import models, queries
from clients.actions import locks
from clients.actions.people import contact_at
from clients.rules import reviews
from studio import models as studio_models
from studio.actions import audit, notices
from studio.rules import Role

Kind = models.Review.Kind
NIGHTLY = "review clock"


def count_visit(
    client_id: UUID, *, on: date, by: studio_models.Person | None, now: datetime, instructor_id: int | None = None
) -> None:
    """One more completed visit on a local day; the first one starts both reviews.

    The caller counts each place once. `instructor_id` (else `by`, when she teaches) becomes the usual instructor of a
    client who has none.
    """
    with transaction.atomic():
        client = models.Client.objects.select_for_update().get(pk=client_id)
        client.visits += 1
        client.last_visit = max(client.last_visit or on, on)
        if client.usual_instructor_id is None:
            client.usual_instructor_id = instructor_id or _teaching(by)
        client.save(update_fields=["visits", "last_visit", "usual_instructor"])
        _start_reviews(client, on=on)
        audit.wrote("count_visit", client, by=by, now=now, client_key=client.pk, detail={"on": on.isoformat()})


def uncount_visit(
    client_id: UUID, *, on: date, by: studio_models.Person | None, now: datetime, last_visit: date | None = None
) -> None:
    """Take one visit of a local day back; reviews that only it had started go with it.

    `last_visit` is the day of the last visit that remains, which the caller knows; without it the day stays unless no
    visit remains.
    """
    with transaction.atomic():
        client = models.Client.objects.select_for_update().get(pk=client_id)
        if client.visits == 0:
            return
        client.visits -= 1
        if client.visits == 0:
            client.last_visit = None
            client.reviews.filter(done_at=None, visits_then__lte=1).delete()
        elif client.last_visit == on and last_visit is not None:
            client.last_visit = last_visit
        client.save(update_fields=["visits", "last_visit"])
        audit.wrote("uncount_visit", client, by=by, now=now, client_key=client.pk, detail={"on": on.isoformat()})


def raise_due_reviews(*, now: datetime) -> int:
    """Put each review that has come due on the lists, and write to the usual instructor; the number raised.

    Safe to repeat and to run twice at once: each review is raised by one of them.
    """
    due = Q(due_on__lte=queries.house_day(now)) | Q(due_visits__lte=F("client__visits"))
    with transaction.atomic():
        waiting = models.Review.objects.filter(due, raised_at=None, done_at=None, client__archived_at=None)
        rows = waiting.select_related("client__usual_instructor").select_for_update(of=("self",), skip_locked=True)
        raised = list(rows.order_by("pk"))
        for review in raised:
            review.raised_at = now
            review.save(update_fields=["raised_at"])
            audit.wrote("raise_review", review, by=None, now=now, actor=NIGHTLY, client_key=review.client_id)
            _write_to_instructor(review, now)
    return len(raised)


def call_review(client_id: UUID, *, by: studio_models.Person, now: datetime) -> models.Review | None:
    """A short review is due today, for what was just told; called already it stays, and the usual dates are kept.

    None before a reference is loaded. Why is not kept here: whoever calls keeps it sealed.
    """
    with transaction.atomic():
        client = locks.client(client_id)
        on = queries.day_of(now, client)
        _start_reviews(client, on=on)
        review = client.reviews.filter(kind=Kind.SHORT, done_at=None).first()
        if review is None or (review.raised_at is not None and review.due_on <= on):
            return review
        review.due_on, review.raised_at = min(review.due_on, on), now
        review.save(update_fields=["due_on", "raised_at"])
        audit.wrote("call_review", review, by=by, now=now, client_key=client.pk)
    return review


def finish_review(review_id: UUID, *, by: studio_models.Person, now: datetime) -> models.Review | None:
    """A review was held: the next of its kind is dated from today. Held already: None, and nothing changes.

    A full reassessment is a short review too.
    """
    with transaction.atomic():
        client_id = models.Review.objects.values_list("client_id", flat=True).get(pk=review_id)
        client = locks.client(client_id)
        review = models.Review.objects.get(pk=review_id)
        if review.done_at is not None:
            return None
        kinds = [Kind.SHORT, Kind.FULL] if review.kind == Kind.FULL else [review.kind]
        for held in client.reviews.filter(done_at=None, kind__in=kinds):
            held.done_at, held.done_by = now, by
            held.save(update_fields=["done_at", "done_by"])
            notices.withdraw(about=_about(held), now=now)
            audit.wrote("finish_review", held, by=by, now=now, client_key=client.pk)
        _start_reviews(client, on=queries.day_of(now, client))
        return client.reviews.get(kind=review.kind, done_at=None)


def _start_reviews(client: models.Client, *, on: date) -> None:
    """A review of each kind that has none open, counted from `on`."""
    running = set(client.reviews.filter(done_at=None).values_list("kind", flat=True))
    wanted = [kind for kind in Kind if kind.value not in running]
    # Without a reference there is no interval yet; the next visit starts what this one could not.
    if not wanted or not queries.has_rules():
        return
    intervals = queries.rules_in_force().rulebook.intervals
    for kind in wanted:
        due = reviews.due(
            kind.value, counted_from=on, visits_then=client.visits, visits_now=client.visits, intervals=intervals
        )
        if due.due_on is None or due.due_visits is None:
            raise ValueError(f"{kind.value} needs both days and lessons")
        models.Review.objects.create(
            client=client,
            kind=kind,
            counted_from=on,
            visits_then=client.visits,
            due_on=due.due_on,
            due_visits=due.due_visits,
        )


def _teaching(by: studio_models.Person | None) -> int | None:
    return by.pk if by is not None and by.has_role(Role.INSTRUCTOR) else None


def _write_to_instructor(review: models.Review, now: datetime) -> None:
    teacher = review.client.usual_instructor
    contact = contact_at(teacher.email) if teacher and teacher.is_active else None
    if teacher is None or contact is None:
        return
    notices.put(
        kind="review_due",
        contact=contact,
        values={"name": teacher.name, "client": review.client.name},
        about=_about(review),
        due_at=now,
        now=now,
        once=f"review_due:{review.pk}",
    )


def _about(review: models.Review) -> str:
    return f"review:{review.pk}"
