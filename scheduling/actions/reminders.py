"""Reminders for places booked before their client agreed to messages."""

from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import CharField, Exists, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Cast, Concat

from clients.models import Consent
from scheduling import models
from scheduling.actions import letters, marks
from scheduling.rules.places import PlaceState
from studio.models import Notice, Studio
from studio.rules import Refused


def lay_reminders(*, now: datetime) -> int:
    """Lay what a booking could not promise yet: the number of places looked at. Safe to repeat and to run twice.

    Only places soon enough that a reminder may leave before the next round of a day.
    """
    places = list(_unreminded(now))
    for place_id in places:
        try:
            marks.remind_place(place_id, now=now)
        except Refused:
            # Somebody is moving it at this moment; the move promises anew, or the next round finds it.
            continue
    return len(places)


def _unreminded(now: datetime) -> QuerySet[models.Place, UUID]:
    hours = max((hour for row in Studio.objects.values_list("reminder_hours", flat=True) for hour in row), default=0)
    agreed = Consent.objects.filter(client=OuterRef("client"), kind=letters.MESSAGES, withdrawn_at=None)
    about = Concat(Value("place:"), Cast(OuterRef("pk"), CharField()))
    laid = Notice.objects.filter(~Q(state=Notice.State.WITHDRAWN), kind=letters.REMINDER, about=about)
    soon = models.Place.objects.filter(live=True, state=PlaceState.BOOKED.value, client__contact__isnull=False)
    soon = soon.filter(during__startswith__gt=now, during__startswith__lte=now + timedelta(days=1, hours=hours))
    return soon.filter(Exists(agreed), ~Exists(laid)).order_by("during", "pk").values_list("pk", flat=True)
