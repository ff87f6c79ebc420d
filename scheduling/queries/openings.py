"""Openings in full: the rules' findings with the names people read, and what else there is after a clash."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from uuid import UUID

from scheduling.queries.house import House
from scheduling.queries.resources import resources_over
from scheduling.rules.alternatives import AT_MOST, DAYS_AROUND, Asked, alternatives, relaxations
from scheduling.rules.openings import Opening, Resources, Wanted, find_openings
from studio.rules import Span, zones

A_DAY = timedelta(days=1)

# The nearest stand on the days beside it, nearly always; the whole fortnight costs many times as much to read.
NEXT_TO = 2


@dataclass(frozen=True)
class Stretch:
    """A part of a teacher's working day, in percent of it."""

    left: float
    width: float


@dataclass(frozen=True)
class OpeningView:
    """One opening as it is read; `taken` is the teacher's day behind it, `this` the opening in that day."""

    span: Span
    start_wall: datetime
    end_wall: datetime
    studio_id: int
    studio: str
    instructor_id: int
    instructor: str
    apparatus_id: int
    apparatus: str
    lesson_id: UUID | None
    reasons: tuple[str, ...]
    taken: tuple[Stretch, ...] = ()
    this: Stretch | None = None

    @property
    def minutes(self) -> int:
        return int(self.span.minutes)


@dataclass(frozen=True)
class RelaxationView:
    """One thing changed that brings openings; `wanted` is the changed request."""

    change: str
    says: str
    count: int
    first: OpeningView
    wanted: Wanted


@dataclass(frozen=True)
class Found:
    openings: tuple[OpeningView, ...]
    relaxations: tuple[RelaxationView, ...]


def openings(wanted: Wanted, *, now: datetime, client_id: UUID | None = None, limit: int = 12) -> list[OpeningView]:
    """The best openings, best first, at most `limit`. Three queries."""
    houses, resources = resources_over(min(wanted.days), max(wanted.days), client_id=client_id, now=now)
    return list(_views(find_openings(wanted, resources, now=now, limit=limit), resources, houses))


def search(wanted: Wanted, *, now: datetime, client_id: UUID | None = None, limit: int = 12) -> Found:
    """Openings, and when there are none the smallest changes that bring some. Three queries, six when there are none.

    The days around the wanted ones are read only when they are needed: most searches find something.
    """
    found = openings(wanted, now=now, client_id=client_id, limit=limit)
    if found:
        return Found(tuple(found), ())
    around = timedelta(days=DAYS_AROUND)
    first, last = min(wanted.days) - around, max(wanted.days) + around
    houses, resources = resources_over(first, last, client_id=client_id, now=now)
    relaxed = relaxations(wanted, resources, now=now)
    return Found(
        (),
        tuple(
            RelaxationView(one.change, one.says, one.count, next(_views([one.first], resources, houses)), one.wanted)
            for one in relaxed
        ),
    )


def nearest(
    asked: Asked, *, now: datetime, client_id: UUID | None = None, lesson_id: UUID | None = None
) -> list[OpeningView]:
    """Up to three openings near a booking that clashed; the bookings of `lesson_id` count as free.

    Three queries; six when less than three are free within a day of it.
    """
    day = asked.span.start.date()
    # Whatever lies outside the first window is more than a day away, so three within a day are the nearest there are.
    for days in (2, DAYS_AROUND + 1):
        around = timedelta(days=days)
        houses, resources = resources_over(
            day - around, day + around, client_id=client_id, now=now, lesson_id=lesson_id
        )
        found = alternatives(asked, resources, now=now)
        if len(found) == AT_MOST and all(abs(one.span.start - asked.span.start) <= A_DAY for one in found):
            break
    return list(_views(found, resources, houses))


def opening_words(view: OpeningView) -> str:
    """ "Reformer 2 at 12:25 on Thu 12 March, with Iselde Ottrevane"."""
    start = view.start_wall
    when = f"{start:%H:%M} on {start:%a} {start.day} {start:%B}"
    return f"{view.apparatus} at {when}, with {view.instructor}"


def days_from(first: date, *, weekdays: Iterable[int], weeks: int) -> tuple[date, ...]:
    """The days of these weekdays (Monday is 0; none means all) in the `weeks` from `first` on."""
    wanted = set(weekdays) or set(range(7))
    days = (first + timedelta(days=number) for number in range(weeks * 7))
    return tuple(day for day in days if day.weekday() in wanted)


def _views(found: Iterable[Opening], resources: Resources, houses: list[House]) -> Iterator[OpeningView]:
    zone = {house.id: house for house in houses}
    teachers = {teacher.id: teacher for teacher in resources.instructors}
    machines = {machine.id: machine for machine in resources.machines}
    for opening in found:
        house = zone[int(str(opening.studio_id))]
        teacher, machine = teachers[opening.instructor_id], machines[opening.apparatus_ids[0]]
        view = OpeningView(
            opening.span,
            zones.reading(opening.span.start, house.zone),
            zones.reading(opening.span.end, house.zone),
            house.id,
            house.name,
            int(str(teacher.id)),
            teacher.name,
            int(str(machine.id)),
            machine.label,
            opening.lesson_id if isinstance(opening.lesson_id, UUID) else None,
            opening.reasons,
        )
        day = zones.day_span(view.start_wall.date(), house.zone)
        work = [part for span in teacher.work.get(house.id, ()) if (part := span.common(day))]
        yield _with_strip(view, work, [span for span in teacher.busy if span.overlaps(day)])


def _with_strip(view: OpeningView, work: list[Span], busy: list[Span]) -> OpeningView:
    spans = [*work, view.span]
    start, end = min(span.start for span in spans), max(span.end for span in spans)
    length = (end - start).total_seconds()

    def stretch(span: Span) -> Stretch:
        left = (span.start - start).total_seconds() / length
        return Stretch(round(100 * left, 2), round(100 * span.length.total_seconds() / length, 2))

    return replace(view, taken=tuple(stretch(span) for span in sorted(busy)), this=stretch(view.span))
