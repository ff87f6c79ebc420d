"""The house itself: its first owner, its locations with their hours and policy, the days it is shut."""

import zoneinfo
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time
from functools import cache
from typing import Any

from django.conf import settings
from django.db import transaction

from studio import models
from studio.actions import audit, people
from studio.rules import Reason, Refused, Role, first_day, house

AREAS = (
    "Africa/",
    "America/",
    "Antarctica/",
    "Arctic/",
    "Asia/",
    "Atlantic/",
    "Australia/",
    "Europe/",
    "Indian/",
    "Pacific/",
)


def set_up(
    *, business: str, owner_name: str, owner_email: str, password: str, now: datetime, emergency_number: str = "112"
) -> models.Person:
    """A house with a name and its first owner, open for work, in one go. Raises Refused when there is one already."""
    with transaction.atomic():
        code = first_day.code(settings.SECRET_KEY)
        owner = open_house(name=owner_name, email=owner_email, password=password, code=code, now=now)
        name_house(business=business, emergency_number=emergency_number, by=owner, now=now)
        finish_set_up(by=owner, now=now)
    return owner


def open_house(
    *, name: str, email: str, password: str, now: datetime, code: str = "", also: Iterable[Role] = ()
) -> models.Person:
    """The first account of an empty house: its owner, who may `also` work at the desk or teach.

    Raises Refused once anybody has an account, and in production without the code that `manage.py prepare` printed.
    """
    with transaction.atomic():
        models.Business.objects.get_or_create(id=1, defaults={"name": ""})
        models.Business.objects.select_for_update().get(id=1)
        if models.Person.objects.exists():
            raise Refused(Reason("house_taken", "This house has an owner already: sign in.", allowed="the owner"))
        if settings.PRODUCTION and not first_day.opens(code, settings.SECRET_KEY):
            says = "That is not the code of this house. It stands in the output of “manage.py prepare”."
            raise Refused(Reason("wrong_code", says, "code", "the code printed at the installation"))
        roles = {Role.OWNER, *also}
        return people.add_person(name=name, email=email, roles=roles, password=password, by=None, now=now)


def name_house(*, business: str, by: models.Person, now: datetime, emergency_number: str = "112") -> models.Business:
    """The name of the business and the number to call in an emergency. Raises Refused without either."""
    wanted = {"business": (business.strip(), "The business needs a name.")}
    wanted["emergency_number"] = (emergency_number.strip(), "An emergency number is needed.")
    if missing := [Reason(f"no_{field}", says, field) for field, (value, says) in wanted.items() if not value]:
        raise Refused(missing)
    with transaction.atomic():
        row, _ = models.Business.objects.update_or_create(
            id=1, defaults={"name": business.strip(), "emergency_number": emergency_number.strip()}
        )
        audit.wrote("name house", row, by=by, now=now)
    return row


def keep_first_house(
    *, business: str, emergency_number: str, place: dict[str, str], by: models.Person, now: datetime
) -> models.Studio:
    """Name the business and describe its first location, the first time or again. Raises Refused like both deeds."""
    with transaction.atomic():
        name_house(business=business, emergency_number=emergency_number, by=by, now=now)
        first = models.Studio.objects.order_by("position", "pk").first()
        if first is None:
            return add_studio(**place, by=by, now=now)
        return change_studio(first.pk, **place, by=by, now=now)


def open_for_work(*, policy: dict[str, Any], by: models.Person, now: datetime) -> models.Business:
    """The last step of a first day: the same policy for every location, and the house is set up.

    `policy` holds the keywords of `set_policy`. Raises Refused like it, and for a house without hours.
    """
    with transaction.atomic():
        for studio_id in models.Studio.objects.values_list("pk", flat=True):
            set_policy(studio_id, **policy, by=by, now=now)
        if not models.OpeningHours.objects.exists():
            raise Refused(Reason("no_hours", "The house has no opening hours yet: go back to that step."))
        return finish_set_up(by=by, now=now)


def finish_set_up(*, by: models.Person, now: datetime) -> models.Business:
    """The house is set up: from now on its pages open on the day. Repeating it changes nothing."""
    with transaction.atomic():
        row = models.Business.objects.select_for_update().get(id=1)
        if row.set_up_at is None:
            row.set_up_at = now
            row.save(update_fields=["set_up_at"])
            audit.wrote("finish set-up", row, by=by, now=now)
    return row


def add_studio(
    *, name: str, time_zone: str, by: models.Person | None, now: datetime, address: str = ""
) -> models.Studio:
    """A location. Raises Refused: no name, a name taken, an unknown time zone."""
    with transaction.atomic():
        business = models.Business.objects.select_for_update().get(id=1)
        studio = models.Studio(business=business, position=models.Studio.objects.count())
        _describe(studio, name=name, time_zone=time_zone, address=address)
        audit.wrote("add studio", studio, by=by, now=now)
    return studio


def change_studio(
    studio_id: int, *, name: str, time_zone: str, by: models.Person, now: datetime, address: str = ""
) -> models.Studio:
    """Rename or move a location. Raises Refused like `add_studio`."""
    with transaction.atomic():
        models.Business.objects.select_for_update().get(id=1)
        studio = models.Studio.objects.select_for_update().get(pk=studio_id)
        _describe(studio, name=name, time_zone=time_zone, address=address)
        audit.wrote("change studio", studio, by=by, now=now)
    return studio


def set_hours(
    studio_id: int,
    hours: Mapping[int, Sequence[tuple[time, time]]],
    *,
    by: models.Person | None,
    now: datetime,
) -> None:
    """Replace a location's week: {weekday: [(opens, closes)]} in wall time, Monday is 0, a missing day is closed.

    Raises Refused: closes before it opens, stretches that overlap, no open day at all.
    """
    reasons = house.hours_reasons(hours)
    if not any(hours.values()):
        reasons.append(Reason("never_open", "Open on at least one day.", "day_0"))
    if reasons:
        raise Refused(reasons)
    with transaction.atomic():
        studio = models.Studio.objects.select_for_update().get(pk=studio_id)
        studio.opening_hours.all().delete()
        models.OpeningHours.objects.bulk_create(
            models.OpeningHours(studio=studio, weekday=weekday, opens=opens, closes=closes)
            for weekday, stretches in hours.items()
            for opens, closes in stretches
        )
        audit.wrote("set hours", studio, by=by, now=now)


def set_policy(
    studio_id: int,
    *,
    lesson_minutes: int,
    turnaround_minutes: int,
    cancel_hours: int,
    reminder_hours: Iterable[int],
    by: models.Person | None,
    now: datetime,
) -> models.Studio:
    """The usual length of a lesson, the minutes between, and the hours of cancelling and reminding. Raises Refused."""
    reminders = sorted(set(reminder_hours), reverse=True)
    reasons = house.policy_reasons(
        lesson_minutes=lesson_minutes,
        turnaround_minutes=turnaround_minutes,
        cancel_hours=cancel_hours,
        reminder_hours=reminders,
    )
    if reasons:
        raise Refused(reasons)
    with transaction.atomic():
        studio = models.Studio.objects.select_for_update().get(pk=studio_id)
        studio.lesson_minutes, studio.turnaround_minutes = lesson_minutes, turnaround_minutes
        studio.cancel_hours, studio.reminder_hours = cancel_hours, reminders
        studio.save(update_fields=["lesson_minutes", "turnaround_minutes", "cancel_hours", "reminder_hours"])
        audit.wrote("set policy", studio, by=by, now=now)
    return studio


def close_days(
    studio_id: int, *, first_day: date, last_day: date, why: str, by: models.Person | None, now: datetime
) -> models.Closure:
    """Shut a location on these local days, both included. Raises Refused: ends before it starts, no reason."""
    reasons = []
    if last_day < first_day:
        reasons.append(Reason("ends_before", "The last day cannot be before the first.", "last_day"))
    if not why.strip():
        reasons.append(Reason("no_why", "Say why, so that the desk can tell people.", "why"))
    if reasons:
        raise Refused(reasons)
    with transaction.atomic():
        studio = models.Studio.objects.select_for_update().get(pk=studio_id)
        closure = models.Closure.objects.create(
            studio=studio, first_day=first_day, last_day=last_day, why=why.strip()[:120]
        )
        audit.wrote("close days", closure, by=by, now=now)
    return closure


def open_days(closure_id: int, *, by: models.Person, now: datetime) -> None:
    """Take a closure back."""
    with transaction.atomic():
        closure = models.Closure.objects.select_for_update().get(pk=closure_id)
        audit.wrote("open days", closure, by=by, now=now)
        closure.delete()


@cache
def zone_names() -> tuple[str, ...]:
    """Names of the time zones a studio may lie in: Area/Place names, and UTC."""
    return (*sorted(name for name in zoneinfo.available_timezones() if name.startswith(AREAS)), "UTC")


def _describe(studio: models.Studio, *, name: str, time_zone: str, address: str) -> None:
    reasons = []
    if not name.strip():
        reasons.append(Reason("no_name", "The location needs a name.", "name"))
    if models.Studio.objects.exclude(pk=studio.pk).filter(name=name.strip()).exists():
        reasons.append(Reason("name_taken", "Another location has this name.", "name", "Choose another name."))
    if time_zone.strip() not in zone_names():
        says = "That is not a time zone we know. Choose one from the list."
        reasons.append(Reason("unknown_zone", says, "time_zone", "for example Europe/Lisbon"))
    if reasons:
        raise Refused(reasons)
    studio.name, studio.time_zone, studio.address = name.strip(), time_zone.strip(), address.strip()
    studio.save()
