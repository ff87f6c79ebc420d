"""The business and its studios."""

from dataclasses import dataclass, field
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from studio import models
from studio.rules import house, zones


@dataclass(frozen=True)
class ClosureView:
    """Local days a studio stays shut, both included."""

    id: int
    first_day: date
    last_day: date
    why: str


@dataclass(frozen=True)
class PolicyView:
    """Minutes of a lesson and between lessons, hours until which cancelling is free, hours of the reminders before."""

    lesson_minutes: int
    turnaround_minutes: int
    cancel_hours: int
    reminder_hours: tuple[int, ...]


@dataclass(frozen=True)
class StudioView:
    """A location. `hours` has each open weekday's (opens, closes) in wall time; a weekday that is missing is closed."""

    id: int
    name: str
    zone: ZoneInfo
    address: str
    policy: PolicyView
    hours: dict[int, list[tuple[time, time]]] = field(default_factory=dict)
    closures: tuple[ClosureView, ...] = ()

    @property
    def week_lines(self) -> list[str]:
        """The week in words, a line for each open day: "Monday 07:00-21:00"."""
        return [
            f"{house.WEEKDAYS[weekday]} " + ", ".join(f"{opens:%H:%M}-{closes:%H:%M}" for opens, closes in stretches)
            for weekday, stretches in sorted(self.hours.items())
        ]

    def shut_on(self, day: date) -> bool:
        return any(closure.first_day <= day <= closure.last_day for closure in self.closures)


@dataclass(frozen=True)
class BusinessView:
    name: str
    emergency_number: str


def business() -> BusinessView | None:
    """The business, or None before it has a name."""
    found = models.Business.objects.exclude(name="").first()
    return BusinessView(found.name, found.emergency_number) if found else None


def is_set_up() -> bool:
    return models.Business.objects.filter(set_up_at__isnull=False).exists()


def signboard() -> tuple[str, bool]:
    """The name of the business, empty before it has one, and whether the house is set up."""
    found = models.Business.objects.values_list("name", "set_up_at").first()
    return (found[0], found[1] is not None) if found else ("", False)


def first_day_done() -> dict[str, bool]:
    """Which steps of the first day have been done, as the house's rows tell; the policy is the last and opens it.

    Machines and teachers lie in an app above: here is known only that something was written there.
    """
    people = models.Person.objects.count()
    return {
        "account": people > 0,
        "house": business() is not None and models.Studio.objects.exists(),
        "hours": models.OpeningHours.objects.exists(),
        "machines": _written("scheduling.apparatus"),
        "teachers": people > 1 or _written("scheduling.instructor"),
        "policy": is_set_up(),
    }


def _written(model: str) -> bool:
    return models.AuditEntry.objects.filter(model=model, kind=models.AuditEntry.Kind.WRITE).exists()


def studios() -> list[StudioView]:
    """The open locations in their order, with hours and closures: three queries, whatever their number."""
    rows = models.Studio.objects.filter(closed_on=None).prefetch_related("opening_hours", "closures")
    return [_studio(row) for row in rows.order_by("position", "pk")]


def studio(studio_id: int) -> StudioView:
    """One location. Raises Studio.DoesNotExist."""
    return _studio(models.Studio.objects.prefetch_related("opening_hours", "closures").get(pk=studio_id))


def house_zone() -> ZoneInfo:
    """The zone of the first location: the one the house's own days and greetings go by. UTC before there is one."""
    name = models.Studio.objects.order_by("position", "pk").values_list("time_zone", flat=True).first()
    return ZoneInfo(name or "UTC")


def door_line(found: list[StudioView], *, now: datetime) -> str:
    """What the door of each location says now, in one sentence; empty without locations."""
    said = [_door(view, now) for view in found]
    return ", ".join(said) + "." if said else ""


def _door(view: StudioView, now: datetime) -> str:
    day = zones.local_day(now, view.zone)
    stretches = view.hours.get(day.weekday(), [])
    return house.door_words(view.name, stretches, now.astimezone(view.zone).time(), shut_today=view.shut_on(day))


def _studio(row: models.Studio) -> StudioView:
    hours: dict[int, list[tuple[time, time]]] = {}
    for stretch in sorted(row.opening_hours.all(), key=lambda stretch: (stretch.weekday, stretch.opens)):
        hours.setdefault(stretch.weekday, []).append((stretch.opens, stretch.closes))
    return StudioView(
        id=row.pk,
        name=row.name,
        zone=ZoneInfo(row.time_zone),
        address=row.address,
        policy=PolicyView(
            row.lesson_minutes,
            row.turnaround_minutes,
            row.cancel_hours,
            tuple(sorted(row.reminder_hours, reverse=True)),
        ),
        hours=hours,
        closures=tuple(
            ClosureView(closure.pk, closure.first_day, closure.last_day, closure.why)
            for closure in sorted(row.closures.all(), key=lambda closure: closure.first_day)
        ),
    )
