"""The look of the night: what the days alone have changed, what comes within a month, and who was away for long."""

import logging
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet

from clients import models, queries
from clients.actions import asking, coming, screening
from clients.actions.people import contact_at
from clients.rules import adjusting
from clients.rules.asking import ABSENCES, FULL
from clients.rules.sealing import SealBroken
from studio import models as studio_models
from studio.actions import notices

log = logging.getLogger(__name__)
ACTOR = "the look of the night"
Form = models.HealthForm.State
# A notice that could not be laid on its own night, because nothing ran, is laid within so many days.
TOLD_WITHIN = 7


@dataclass(frozen=True)
class Night:
    """What one look did: clients screened anew, changes put on the list, forms asked for again, teachers written to.

    `failed` are clients whose sealed words would not open; they keep what stood.
    """

    screened: int = 0
    listed: int = 0
    asked: int = 0
    told: int = 0
    failed: int = 0


def look_again(*, now: datetime) -> Night:
    """Look at every client for whom a day has come, each in a transaction of its own.

    Safe to repeat and to run twice at once: whoever is being looked at is left to the other. On the day after a change
    was found its client's usual instructor is written to, once and without a word about health.
    """
    if not queries.has_rules():
        return Night()
    found = [_look_at(client_id, now) for client_id in _whose_day_has_come(queries.house_day(now))]
    return Night(
        screened=sum(one.screened for one in found),
        listed=sum(one.listed for one in found),
        asked=sum(one.asked for one in found),
        told=_tell_teachers(now),
        failed=sum(one.failed for one in found),
    )


def _whose_day_has_come(day: date) -> list[UUID]:
    rows = _due(day).order_by("client_id").values_list("client_id", flat=True)
    return list(rows)


def _due(day: date) -> QuerySet[models.Screening]:
    intervals = adjusting.adjusted(queries.rules_in_force().rulebook, queries.choices()).intervals
    shortest = min(intervals[item].days or 0 for item, _ in ABSENCES)
    away_since = day - timedelta(days=shortest)
    was_away = Q(client__last_visit__lte=away_since) & ~Q(asks_again=FULL)
    has_come = Q(look_again_on__lte=day) | Q(look_ahead_on__lte=day) | was_away
    standing = models.Screening.objects.filter(replaced_at=None, form__state=Form.SIGNED, client__archived_at=None)
    return standing.filter(has_come)


def _look_at(client_id: UUID, now: datetime) -> Night:
    try:
        with transaction.atomic():
            rows = models.Client.objects.select_for_update(of=("self",), skip_locked=True).select_related("home")
            client = rows.filter(pk=client_id, archived_at=None).first()
            return _look(client, now) if client else Night()
    except SealBroken:
        # One damaged row must not keep the night from everybody else.
        log.exception("sealed words of client %s would not open", client_id)
        return Night(failed=1)


def _look(client: models.Client, now: datetime) -> Night:
    """The second look, under the lock: another may have been here meanwhile."""
    day = queries.day_of(now, client)
    standing = client.screenings.filter(replaced_at=None).select_related("form").first()
    if standing is None or standing.form.state != Form.SIGNED:
        return Night()
    screened = 0
    if _has_come(standing.look_again_on, day):
        standing = screening.screen_again(client, asked_for="night", by=None, now=now, actor=ACTOR) or standing
        screened = 1
    elif _has_come(standing.look_ahead_on, day):
        _list_ahead(client, standing, day, now)
    is_asked = asking.ask_after_absence(client, standing, now=now, actor=ACTOR)
    return Night(screened=screened, listed=client.coming.filter(found_at=now).count(), asked=int(is_asked))


def _has_come(looked_for: date | None, day: date) -> bool:
    return looked_for is not None and looked_for <= day


def _list_ahead(client: models.Client, standing: models.Screening, day: date, now: datetime) -> None:
    known = screening.facts_of(client, asked_for="coming", by=None, now=now, actor=ACTOR)
    if known is None:
        return
    rules, choices = queries.rules_in_force(), queries.choices()
    standing.look_ahead_on = coming.list_ahead(client, known, rulebook=rules.rulebook, choices=choices, on=day, now=now)
    standing.save(update_fields=["look_ahead_on"])


def _tell_teachers(now: datetime) -> int:
    """One notice for each teacher and each day on which something was found, on a later day."""
    today = queries.house_day(now)
    rows = models.Coming.objects.filter(gone_at=None, found_at__gte=now - timedelta(days=TOLD_WITHIN))
    rows = rows.filter(client__archived_at=None, client__usual_instructor__is_active=True)
    found = rows.values_list("client__usual_instructor_id", "found_at")
    days = {(teacher_id, queries.house_day(at)) for teacher_id, at in found}
    past = sorted(one for one in days if one[1] < today)
    teachers = studio_models.Person.objects.in_bulk({teacher_id for teacher_id, _ in past})
    return sum(_tell(teachers[teacher_id], day, now) for teacher_id, day in past)


def _tell(teacher: studio_models.Person, day: date, now: datetime) -> bool:
    contact = contact_at(teacher.email)
    if contact is None:
        return False
    key = f"changes_ahead:{teacher.pk}:{day.isoformat()}"
    laid = notices.put(
        kind="changes_ahead",
        contact=contact,
        values={"name": teacher.name},
        about=key,
        due_at=now,
        now=now,
        once=key,
    )
    return laid is not None
