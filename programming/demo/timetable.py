"""The week as it usually is, and the days made from it; by construction nobody and nothing is in two places at once."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from random import Random
from typing import TypeVar

from programming.demo.cast import Member
from programming.demo.scenario import MachinePlan, PersonPlan, Scenario, Shift
from scheduling.rules.places import LessonKind
from studio.rules import ApparatusKind, Span, zones

Thing = TypeVar("Thing")
LESSON = timedelta(minutes=55)
HOUR = timedelta(hours=1)
# How often a lesson is of a kind, and how often it is on which apparatus; seats taken, least and most.
KINDS = ((LessonKind.PRIVATE, 50), (LessonKind.DUET, 28), (LessonKind.SMALL_GROUP, 22))
BUSY_KINDS = ((LessonKind.PRIVATE, 12), (LessonKind.DUET, 33), (LessonKind.SMALL_GROUP, 55))
APPARATUS = (
    (ApparatusKind.REFORMER, 62),
    (ApparatusKind.MAT, 16),
    (ApparatusKind.TOWER, 11),
    (ApparatusKind.CHAIR, 7),
    (ApparatusKind.BARREL, 4),
)
COMING = {LessonKind.PRIVATE: (1, 1), LessonKind.DUET: (2, 2), LessonKind.SMALL_GROUP: (3, 4)}
SEATS = {LessonKind.PRIVATE: 1, LessonKind.DUET: 2, LessonKind.SMALL_GROUP: 4}


@dataclass(frozen=True)
class Hour:
    """One hour of one teacher's shift."""

    teacher: str
    studio: str
    weekday: int
    starts: time


@dataclass(frozen=True)
class Usual:
    """A lesson of the usual week: who comes, on which machines (labels), each in the order of the other."""

    hour: Hour
    kind: LessonKind
    people: tuple[int, ...]
    machines: tuple[str, ...]

    @property
    def seats(self) -> int:
        return SEATS[self.kind]


@dataclass
class Week:
    """Usual lessons being laid into the free hours; what is taken is kept by weekday and hour."""

    scenario: Scenario
    members: Sequence[Member]
    rng: Random
    kinds: Sequence[tuple[LessonKind, int]] = KINDS
    lessons: list[Usual] = field(default_factory=list)
    taken: set[tuple[int, time, str, str]] = field(default_factory=set)
    busy: set[tuple[int, int]] = field(default_factory=set)
    left: dict[int, int] = field(default_factory=dict)
    usual: dict[int, str] = field(default_factory=dict)

    def fill(self, hours: Sequence[Hour], *, lessons: int, places: int) -> None:
        """Lay lessons into `hours` until there are so many lessons or places, or nobody or nothing is left."""
        came = 0
        for hour in hours:
            if lessons <= 0 or came >= places:
                return
            if found := self._lesson(hour):
                self._keep(found)
                lessons, came = lessons - 1, came + len(found.people)

    def _lesson(self, hour: Hour) -> Usual | None:
        teacher = next(one for one in self.scenario.teachers if one.initials == hour.teacher)
        kind = self._drawn(self.kinds)
        machines = self._machines(hour, teacher)
        least, most = COMING[kind]
        if len(machines) < least:
            kind, least, most = LessonKind.PRIVATE, 1, 1
        people = self._people(hour, min(most, len(machines)))
        if len(people) < least:
            kind, people = LessonKind.PRIVATE, people[:1]
        if not people or not machines:
            return None
        return Usual(hour, kind, tuple(people), tuple(machines[: len(people)]))

    def _machines(self, hour: Hour, teacher: PersonPlan) -> list[str]:
        """Free machines of one kind that she teaches; of one room, for a lesson is in one room."""
        free = [
            one
            for one in self.scenario.machines
            if one.studio == hour.studio and (hour.weekday, hour.starts, one.studio, one.label) not in self.taken
        ]
        offered = [(kind, weight) for kind, weight in APPARATUS if kind in teacher.may_teach and _any(free, kind)]
        if not offered:
            return []
        kind = self._drawn(offered)
        labels = [one.label for one in free if one.kind is kind]
        self.rng.shuffle(labels)
        return labels

    def _people(self, hour: Hour, most: int) -> list[int]:
        """Those with lessons left in the week and nothing else on the day; first who has this teacher or none yet."""
        free = [
            one.number
            for one in self.members
            if one.row.home == hour.studio and self.left.get(one.number, 0) > 0 and self._is_free(one, hour)
        ]
        self.rng.shuffle(free)
        free.sort(key=lambda number: self.usual.get(number, hour.teacher) != hour.teacher)
        return free[:most]

    def _is_free(self, member: Member, hour: Hour) -> bool:
        return (member.number, hour.weekday) not in self.busy

    def _keep(self, lesson: Usual) -> None:
        self.lessons.append(lesson)
        hour = lesson.hour
        for number, label in zip(lesson.people, lesson.machines, strict=True):
            self.taken.add((hour.weekday, hour.starts, hour.studio, label))
            self.busy.add((number, hour.weekday))
            self.left[number] = self.left.get(number, 0) - 1
            self.usual.setdefault(number, hour.teacher)

    def _drawn(self, weighted: Sequence[tuple[Thing, int]]) -> Thing:
        return self.rng.choices([one for one, _ in weighted], [weight for _, weight in weighted])[0]


def usual_week(scenario: Scenario, members: Sequence[Member], *, seed: str, lessons: int) -> Week:
    """The week that repeats itself: everybody's usual hours, drawn from the seed."""
    week = Week(scenario, members, Random(f"{seed}:week"), left={one.number: one.weekly for one in members})
    hours = list(_hours(scenario))
    week.rng.shuffle(hours)
    week.fill(hours, lessons=lessons, places=10_000)
    return week


def busy_day(week: Week, day: date, *, places: int) -> list[Usual]:
    """The lessons of one day, filled up to so many places with people who come once more than usual."""
    there = [one for one in week.lessons if one.hour.weekday == day.weekday()]
    taught = {(one.hour.teacher, one.hour.starts) for one in there}
    free = [
        hour
        for hour in _hours(week.scenario)
        if hour.weekday == day.weekday() and (hour.teacher, hour.starts) not in taught
    ]
    week.rng.shuffle(free)
    more = Week(
        week.scenario, week.members, week.rng, BUSY_KINDS, taken=set(week.taken), busy=set(week.busy), usual=week.usual
    )
    more.left = {one.number: 1 for one in week.members if one.weekly and one.comes_on(day)}
    more.fill(free, lessons=len(free), places=places - sum(len(one.people) for one in there))
    return there + more.lessons


def span_on(lesson: Usual, day: date, scenario: Scenario) -> Span:
    """When the lesson is on a day, by the clock of its studio."""
    start = zones.at(day, lesson.hour.starts, scenario.zone_of(lesson.hour.studio)).instant
    return Span(start, start + LESSON)


def _any(machines: Sequence[MachinePlan], kind: ApparatusKind) -> bool:
    return any(one.kind is kind for one in machines)


def _hours(scenario: Scenario) -> Iterator[Hour]:
    for person in scenario.teachers:
        for shift in person.shifts:
            yield from _of_shift(person, shift)


def _of_shift(person: PersonPlan, shift: Shift) -> Iterator[Hour]:
    start, end = (datetime.combine(date.min, wall) for wall in (shift.starts, shift.ends))
    while start + HOUR <= end:
        yield Hour(person.initials, shift.studio, shift.weekday, start.time())
        start += HOUR
