"""Machine use and teaching load, counted from real rows. Weeks are ISO weeks of each studio's own clock."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from scheduling import models
from scheduling.queries.house import House, houses, range_of
from scheduling.queries.resources import LONGEST, service_span
from scheduling.rules import use
from scheduling.rules.places import PlaceState
from studio.rules import Span, zones
from studio.rules.spans import without

# A machine kept free for somebody who did not come was in use all the same.
USED = [PlaceState.BOOKED.value, PlaceState.HERE.value, PlaceState.MISSED.value]


@dataclass(frozen=True)
class MachineUse:
    """One machine: for each week hours used by hours open (None when never open), and over all of them."""

    id: int
    label: str
    studio: str
    weeks: tuple[use.Use | None, ...]
    used: float
    open: float

    @property
    def share(self) -> float | None:
        return self.used / self.open if self.open else None


@dataclass(frozen=True)
class Use:
    """Rows in the house's order; `mondays` name the weeks."""

    mondays: tuple[date, ...]
    machines: tuple[MachineUse, ...]

    @property
    def share(self) -> float | None:
        used, is_open = (sum(getattr(one, name) for one in self.machines) for name in ("used", "open"))
        return used / is_open if is_open else None


@dataclass(frozen=True)
class TeacherLoad:
    """Hours and lessons taught, the longest run without a break (minutes), and the day of it."""

    instructor_id: int
    person_id: int
    name: str
    hours: float
    lessons: int
    longest_run: float

    @property
    def longest_words(self) -> str:
        hours, minutes = divmod(round(self.longest_run), 60)
        return f"{hours} h {minutes:02} min" if hours else f"{minutes} min"


def machine_use(first_week: date, weeks: int) -> Use:
    """Use of every machine in the `weeks` ISO weeks from the one of `first_week` on. Four queries."""
    monday = zones.monday_of(first_week)
    mondays = tuple(monday + timedelta(weeks=number) for number in range(weeks))
    last = mondays[-1] + timedelta(days=6)
    rows: list[MachineUse] = []
    for house in houses():
        window = Span(zones.day_span(monday, house.zone).start, zones.day_span(last, house.zone).end)
        rows += _house_use(house, window, mondays)
    return Use(mondays, tuple(rows))


def _house_use(house: House, window: Span, mondays: tuple[date, ...]) -> Iterable[MachineUse]:
    opening = house.opening(mondays[0], mondays[-1] + timedelta(days=6))
    booked = _by_machine(
        models.Place.objects.filter(
            live=True,
            state__in=USED,
            apparatus__studio=house.id,
            during__startswith__gt=window.start - LONGEST,
            during__startswith__lt=window.end,
            during__endswith__gt=window.start,
        )
    )
    out = _by_machine(
        models.OutOfService.objects.filter(
            apparatus__studio=house.id, during__startswith__lt=window.end, during__endswith__gt=window.start
        )
    )
    machines = models.Apparatus.objects.filter(studio=house.id).order_by("room__position", "position", "label")
    for machine in machines:
        served = service_span(machine.in_service_from, machine.in_service_to, window, house.zone)
        if served is None:
            continue
        shut = [*out.get(machine.pk, []), *without(window, [served])]
        spans = [part for span in booked.get(machine.pk, []) if (part := span.common(window))]
        found = {(one.iso_year, one.iso_week): one for one in use.machine_use(spans, opening, house.zone, out=shut)}
        rows = tuple(found.get(monday.isocalendar()[:2]) for monday in mondays)
        used, is_open = (sum(getattr(row, name) for row in rows if row) for name in ("used", "open"))
        yield MachineUse(machine.pk, machine.label, house.name, rows, used, is_open)


def _by_machine(rows: object) -> dict[int, list[Span]]:
    found: dict[int, list[Span]] = {}
    for machine, during in rows.values_list("apparatus_id", "during"):  # type: ignore[attr-defined]
        found.setdefault(machine, []).append(range_of(during))
    return found


def teaching_load(first_day: date, last_day: date) -> list[TeacherLoad]:
    """Load of every teacher over local days, both included; lessons that took or take place. Two queries."""
    zone = {key: ZoneInfo(name) for key, name in models.Room.objects.values_list("studio_id", "studio__time_zone")}
    around = timedelta(hours=14)
    start = zones.day_span(first_day, ZoneInfo("UTC")).start - around
    end = zones.day_span(last_day, ZoneInfo("UTC")).end + around
    spans: dict[int, list[Span]] = {}
    rows = models.Lesson.objects.filter(live=True, during__startswith__gte=start, during__startswith__lt=end)
    for instructor, studio, during in rows.values_list("instructor_id", "studio_id", "during"):
        span = range_of(during)
        if first_day <= zones.local_day(span.start, zone[studio]) <= last_day:
            spans.setdefault(instructor, []).append(span)
    people = models.Instructor.objects.order_by("person__name").values_list(
        "pk", "person_id", "person__name", "person__is_active"
    )
    return [
        TeacherLoad(key, person, name, load.hours, load.lessons, load.longest_run)
        for key, person, name, active in people
        if active or key in spans
        for load in [use.teaching_load(spans.get(key, []))]
    ]


def weeks_before(now: datetime, weeks: int) -> date:
    """The Monday from which `weeks` ISO weeks end with the present one."""
    return zones.monday_of(now.date()) - timedelta(weeks=weeks - 1)
