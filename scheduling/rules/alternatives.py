"""What else there is: the nearest alternatives after a clash, and the smallest changes when nothing fits."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from scheduling.rules.board import Board
from scheduling.rules.openings import find_openings
from scheduling.rules.places import LEAST_MINUTES, MOST_MINUTES, LessonKind
from scheduling.rules.resources import Instructor, Key, Machine, Opening, Resources, Studio, Wanted
from scheduling.rules.springs import alike
from studio.rules import Span, zones
from studio.rules.spans import covered

AT_MOST = 3
DAYS_AROUND = 7
COUNT_TO = 20


@dataclass(frozen=True)
class Asked:
    """The booking that clashed: one person, one machine, one teacher, one span."""

    span: Span
    kind: LessonKind
    instructor_id: Key
    apparatus_id: Key
    level: int = 1
    needs: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Relaxation:
    """One thing changed in what was wanted: `change` is its code, `count` the openings it brings, counted to 20."""

    change: str
    says: str
    wanted: Wanted
    count: int
    first: Opening


def alternatives(asked: Asked, resources: Resources, *, now: datetime) -> tuple[Opening, ...]:
    """Up to three that are really free, nearest first of each sort: same machine at another time, another machine at
    the same time (same springs first), another teacher at the same time; other times fill what is missing.

    `resources` reach seven days to both sides to be looked at whole.
    """
    machine = resources.machine(asked.apparatus_id)
    studio = next((studio for studio in resources.studios if machine and studio.id == machine.studio_id), None)
    if machine is None or studio is None:
        return ()
    times = _other_times(asked, resources, studio, machine, now)
    found = [next(times, None), *_at_the_same_time(asked, resources, studio, machine, now)]
    kept = [opening for opening in found if opening is not None]
    while len(kept) < AT_MOST and (another := next(times, None)):
        kept.append(another)
    return tuple(kept[:AT_MOST])


def relaxations(wanted: Wanted, resources: Resources, *, now: datetime) -> tuple[Relaxation, ...]:
    """Up to three single changes that bring openings, each of another sort, the smallest first.

    `resources` reach over the days around the wanted ones, for those are tried too.
    """
    found: dict[str, Relaxation] = {}
    for change, says, changed in _changes(wanted):
        if change in found:
            continue
        openings = find_openings(changed, resources, now=now, limit=COUNT_TO)
        if openings:
            found[change] = Relaxation(change, says, changed, len(openings), openings[0])
        if len(found) == AT_MOST:
            break
    return tuple(found.values())


def _other_times(
    asked: Asked, resources: Resources, studio: Studio, machine: Machine, now: datetime
) -> Iterator[Opening]:
    """The same machine and teacher at other times, nearest first, none overlapping another."""
    day = zones.local_day(asked.span.start, studio.zone)
    wanted = Wanted(
        minutes=max(LEAST_MINUTES, int(asked.span.minutes)),
        kind=LessonKind.PRIVATE,
        days=tuple(day + timedelta(days=number) for number in range(-DAYS_AROUND, DAYS_AROUND + 1)),
        apparatus_ids=(machine.id,),
        instructor_ids=(asked.instructor_id,),
        step=5,
        level=asked.level,
        needs=asked.needs,
    )
    board = Board(wanted, replace(resources, lessons=()), now)
    around = board.slots.floor(asked.span.start)
    kept: list[int] = []
    for found in sorted(board.ranked(), key=lambda found: (abs(found.slot - around), found.slot)):
        if all(abs(found.slot - slot) >= board.need for slot in kept):
            kept.append(found.slot)
            start = board.slots.instant(found.slot)
            words = f"{machine.label} at {_when(start, asked.span, studio)}."
            yield replace(board.opening(found), score=0, reasons=(words,))


def _at_the_same_time(
    asked: Asked, resources: Resources, studio: Studio, machine: Machine, now: datetime
) -> list[Opening | None]:
    """Another machine with the same teacher, and another teacher on the same machine or else the next best."""
    span = asked.span
    if span.start < now or any(busy.overlaps(span) for busy in resources.client_busy):
        return []
    machines = sorted(_free_machines(span, resources, studio, machine), key=lambda other: _unlike(other, machine))
    teachers = [one for one in resources.instructors if _free_teacher(one, asked, studio, machine)]
    same = next((one for one in teachers if one.id == asked.instructor_id), None)
    other = next((one for one in teachers if one.id != asked.instructor_id), None)
    other_machine = next((one for one in machines if one.id != machine.id), None)
    return [
        _opening(asked, studio, same, other_machine, machine),
        _opening(asked, studio, other, machines[0] if machines else None, machine),
    ]


def _opening(
    asked: Asked, studio: Studio, teacher: Instructor | None, on: Machine | None, machine: Machine
) -> Opening | None:
    if teacher is None or on is None:
        return None
    words = f"{on.label} at the same time, with {teacher.name}"
    if on.id != machine.id:
        words += ", the same springs" if _same_springs(on, machine) else ", other springs"
    return Opening(asked.span, studio.id, teacher.id, (on.id,), 0, (f"{words}.",))


def _free_machines(span: Span, resources: Resources, studio: Studio, machine: Machine) -> list[Machine]:
    turn = timedelta(minutes=studio.turnaround_minutes)
    kept = Span(span.start - turn, span.end + turn)
    return [
        other
        for other in resources.machines
        if (other.studio_id, other.kind) == (studio.id, machine.kind)
        and not any(busy.overlaps(kept) for busy in other.busy)
        and (other.in_service is None or covered(span, other.in_service))
    ]


def _free_teacher(teacher: Instructor, asked: Asked, studio: Studio, machine: Machine) -> bool:
    may = teacher.teaches.get(machine.kind, 0) >= asked.level and asked.needs <= teacher.cleared_for
    here = covered(asked.span, teacher.work.get(studio.id, ()))
    is_open = covered(asked.span, studio.opening)
    return may and here and is_open and not any(busy.overlaps(asked.span) for busy in teacher.busy)


def _unlike(other: Machine, machine: Machine) -> tuple[bool, bool, bool]:
    return other.id != machine.id, not _same_springs(other, machine), other.room != machine.room


def _same_springs(one: Machine, other: Machine) -> bool:
    return alike(one.springs, other.springs)


def _when(start: datetime, asked: Span, studio: Studio) -> str:
    local, before = start.astimezone(studio.zone), asked.start.astimezone(studio.zone)
    if local.date() == before.date():
        return f"{local:%H:%M}"
    return f"{local:%H:%M} on {local:%a} {local.day} {local:%B}"


def _changes(wanted: Wanted) -> Iterator[tuple[str, str, Wanted]]:
    """Single changes with code and words, from the smallest up; those of one code are tried until one helps."""
    if wanted.apparatus_ids and wanted.apparatus_kind:
        yield "machine", f"Any {wanted.apparatus_kind}.", replace(wanted, apparatus_ids=())
    if wanted.instructor_ids:
        yield "instructor", "Any teacher who may teach this.", replace(wanted, instructor_ids=())
    yield from _other_hours(wanted)
    yield from _other_lengths(wanted)
    yield from _other_days(wanted)
    if wanted.studio_ids:
        yield "studio", "Any of our studios.", replace(wanted, studio_ids=())


def _other_hours(wanted: Wanted) -> Iterator[tuple[str, str, Wanted]]:
    if wanted.earliest == time(0) and wanted.latest is None:
        return
    for hours in (1, 2, 3):
        earliest, latest = _earlier(wanted.earliest, hours), _later(wanted.latest, hours)
        if earliest != wanted.earliest:
            yield "hours", f"From {earliest:%H:%M}.", replace(wanted, earliest=earliest)
        if latest != wanted.latest:
            until = f"{latest:%H:%M}" if latest else "the end of the day"
            yield "hours", f"Until {until}.", replace(wanted, latest=latest)
    yield "hours", "At any time of the day.", replace(wanted, earliest=time(0), latest=None)


def _other_lengths(wanted: Wanted) -> Iterator[tuple[str, str, Wanted]]:
    for change in (-5, 5, -10, 10, -15, 15, -25, 25):
        minutes = wanted.minutes + change
        # Common practice, no source: under 25 minutes is not offered in place of a lesson.
        if max(LEAST_MINUTES, 25) <= minutes <= MOST_MINUTES:
            yield "length", f"{minutes} minutes.", replace(wanted, minutes=minutes)


def _other_days(wanted: Wanted) -> Iterator[tuple[str, str, Wanted]]:
    for away in range(1, DAYS_AROUND):
        for shift in (-away, away):
            days = tuple(day + timedelta(days=shift) for day in wanted.days)
            if not set(days) <= set(wanted.days):
                yield "day", _days_words(days, shift), replace(wanted, days=days)


def _days_words(days: tuple[date, ...], shift: int) -> str:
    if len(days) == 1:
        return f"{days[0]:%A} {days[0].day} {days[0]:%B}."
    if len({day.weekday() for day in days}) == 1:
        return f"{days[0]:%A}s."
    return f"{abs(shift)} day{'s' if abs(shift) > 1 else ''} {'later' if shift > 0 else 'earlier'}."


def _earlier(wall: time, hours: int) -> time:
    return time(wall.hour - hours, wall.minute) if wall.hour >= hours else time(0)


def _later(wall: time | None, hours: int) -> time | None:
    if wall is None or wall.hour + hours > 23:
        return None
    return time(wall.hour + hours, wall.minute)
