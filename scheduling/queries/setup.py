"""What stands where and who teaches when: the owner's set-up pages."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from clients import queries as client_queries
from scheduling import models
from scheduling.queries.house import houses, range_of
from scheduling.queries.lettering import facts_of, label, letters, springs_of
from scheduling.rules.leaving import StillTeaches
from studio.models import Person
from studio.rules import ApparatusKind, Role, Span, zones


@dataclass(frozen=True)
class MachineRow:
    """A machine of the set-up list. `shut` are present and coming spans out of service with their reasons."""

    id: int
    label: str
    kind: ApparatusKind
    letters: str
    springs: str
    in_service_from: date
    in_service_to: date | None
    shut: tuple[tuple[int, Span, str], ...] = ()


@dataclass(frozen=True)
class RoomRow:
    id: int
    name: str
    studio_id: int
    studio: str
    zone: ZoneInfo
    machines: tuple[MachineRow, ...]


@dataclass(frozen=True)
class HoursRow:
    studio_id: int
    studio: str
    weekday: int
    starts: time
    ends: time


@dataclass(frozen=True)
class TeacherRow:
    """A teacher as set up; `instructor_id` None for somebody with the role whose teaching is not set up yet."""

    person_id: int
    name: str
    instructor_id: int | None
    initials: str = ""
    may_teach: Mapping[ApparatusKind, int] | None = None
    hours: tuple[HoursRow, ...] = ()
    needs: tuple[str, ...] = ()
    off: tuple[tuple[int, Span, str], ...] = ()
    lessons_ahead: int = 0


@dataclass(frozen=True)
class Choice:
    """A row to choose in a form."""

    id: int
    name: str
    kind: str = ""


def rooms(*, now: datetime) -> list[RoomRow]:
    """Every room with its machines. Four queries."""
    shut: dict[int, list[tuple[int, Span, str]]] = {}
    out = models.OutOfService.objects.filter(during__endswith__gt=now).order_by("during")
    for key, machine, during, why in out.values_list("pk", "apparatus_id", "during", "why"):
        shut.setdefault(machine, []).append((key, range_of(during), why))
    machines: dict[int, list[MachineRow]] = {}
    rows = models.Apparatus.objects.order_by("position", "label").values_list(
        "id", "label", "kind", "in_service_from", "in_service_to", "room_id", springs_of("pk")
    )
    for key, name, kind, first, last, room, springs in rows:
        facts = facts_of(springs)
        row = MachineRow(
            key, name, ApparatusKind(kind), letters(facts), label(facts), first, last, tuple(shut.get(key, ()))
        )
        machines.setdefault(room, []).append(row)
    found = models.Room.objects.filter(studio__closed_on=None).order_by("studio__position", "position", "name")
    fields = ("id", "name", "studio_id", "studio__name", "studio__time_zone")
    return [
        RoomRow(key, name, studio, studio_name, ZoneInfo(zone), tuple(machines.get(key, ())))
        for key, name, studio, studio_name, zone in found.values_list(*fields)
    ]


def machine(apparatus_id: int, *, now: datetime) -> tuple[RoomRow, MachineRow]:
    """One machine and its room. Raises Apparatus.DoesNotExist."""
    for room in rooms(now=now):
        for row in room.machines:
            if row.id == apparatus_id:
                return room, row
    raise models.Apparatus.DoesNotExist("no such machine")


def teacher(person_id: int, *, now: datetime) -> TeacherRow:
    """One person as a teacher. Raises Person.DoesNotExist."""
    person = Person.objects.get(pk=person_id)
    row = models.Instructor.objects.filter(person=person).first()
    if row is None:
        return TeacherRow(person.pk, person.name, None)
    hours = row.hours.order_by("weekday", "starts").values_list(
        "studio_id", "studio__name", "weekday", "starts", "ends"
    )
    off = row.time_off.filter(during__endswith__gt=now).order_by("during").values_list("pk", "during", "why")
    ahead = models.Lesson.objects.filter(instructor=row, live=True, during__startswith__gte=now)
    return TeacherRow(
        person.pk,
        person.name,
        row.pk,
        row.initials,
        {ApparatusKind(kind): level for kind, level in row.may_teach.values_list("apparatus_kind", "level")},
        tuple(HoursRow(*one) for one in hours),
        tuple(row.needs),
        tuple((key, range_of(during), why) for key, during, why in off),
        ahead.count(),
    )


def teachers() -> list[TeacherRow]:
    """Everybody with the role of an instructor who works here, set up or not. One query."""
    rows = Person.objects.working_here().with_role(Role.INSTRUCTOR).order_by("name")
    return [
        TeacherRow(key, name, instructor, initials or "")
        for key, name, instructor, initials in rows.values_list("pk", "name", "instructor__pk", "instructor__initials")
    ]


def instructor_choices() -> list[Choice]:
    rows = models.Instructor.objects.filter(person__is_active=True).order_by("person__name")
    return [Choice(*row) for row in rows.values_list("pk", "person__name")]


def machine_choices() -> list[Choice]:
    rows = models.Apparatus.objects.filter(studio__closed_on=None).order_by(
        "studio__position", "room__position", "position", "label"
    )
    found = list(rows.values_list("pk", "label", "kind", "studio__name"))
    several = len({row[3] for row in found}) > 1
    return [Choice(key, f"{label}, {studio}" if several else label, kind) for key, label, kind, studio in found]


def studio_choices() -> list[Choice]:
    return [Choice(house.id, house.name) for house in houses()]


def instructor_of(person_id: int) -> int | None:
    """The teacher a person is, or None."""
    return models.Instructor.objects.filter(person=person_id).values_list("pk", flat=True).first()


def still_teaches(person_id: int, *, now: datetime) -> StillTeaches:
    """What somebody has yet to teach, in the wall time of each lesson's studio. One query."""
    lessons = models.Lesson.objects.filter(instructor__person=person_id, live=True, during__endswith__gt=now)
    found = [
        (range_of(during), ZoneInfo(zone))
        for during, zone in lessons.order_by("during").values_list("during", "studio__time_zone")
    ]
    ahead = [(span, zone) for span, zone in found if span.start >= now]
    running = [span.end.astimezone(zone).time() for span, zone in found if span.start < now]
    last_day = zones.local_day(ahead[-1][0].start, ahead[-1][1]) if ahead else None
    return StillTeaches(len(ahead), last_day, running[0] if running else None)


def to_do() -> tuple[str, ...]:
    """What is missing before the first lesson, of "machines", "teachers", "clients" and "lessons"; empty after it."""
    if models.Lesson.objects.exists():
        return ()
    missing = ["lessons"]
    if not models.Apparatus.objects.exists():
        missing.append("machines")
    if not models.Instructor.objects.filter(may_teach__isnull=False, hours__isnull=False).exists():
        missing.append("teachers")
    if not client_queries.count():
        missing.append("clients")
    return tuple(missing)
