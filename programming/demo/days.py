"""One day of the usual week made real: who really comes, on which machine, and what becomes of each place."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from enum import StrEnum
from random import Random

from programming.demo import founding, timetable
from programming.demo.cast import Member
from programming.demo.scenario import Scenario
from programming.demo.timetable import Usual
from studio.rules import ApparatusKind, Span


class Fate(StrEnum):
    """What becomes of a place that was booked."""

    CAME = "came"
    CANCELLED = "cancelled"
    CANCELLED_LATE = "cancelled_late"
    MISSED = "missed"


# Of a hundred places asked for.
FATES = ((Fate.CAME, 88), (Fate.CANCELLED, 6), (Fate.CANCELLED_LATE, 3), (Fate.MISSED, 3))
AWAY = 0.06
# The house fills up: the share of the usual week that is held twelve weeks ago, and that is booked ahead by week.
FIRST_SHARE = 0.35
GROWS_OVER = 84
AHEAD = (0.9, 0.6, 0.4, 0.25)


@dataclass(frozen=True)
class Seat:
    """One client on one machine (label)."""

    member: Member
    machine: str
    kind: ApparatusKind
    fate: Fate


@dataclass(frozen=True)
class Planned:
    lesson: Usual
    span: Span
    seats: tuple[Seat, ...]


@dataclass(frozen=True)
class Calendar:
    """What the scenario says of each day around today."""

    scenario: Scenario
    members: Sequence[Member]
    today: date
    seed: str

    def day(self, day: date, usual: Sequence[Usual]) -> list[Planned]:
        """The lessons of a day in their order; those of a closed studio or an absent teacher fall out."""
        rng = Random(f"{self.seed}:{(day - self.today).days}")
        taken = {(one.hour.starts, one.hour.studio, label) for one in usual for label in one.machines}
        found = []
        for lesson in sorted(usual, key=lambda one: (one.hour.starts, one.hour.studio, one.hour.teacher)):
            if self._is_off(lesson, day):
                continue
            seats = tuple(self._seats(lesson, day, rng, taken))
            if seats:
                found.append(Planned(lesson, timetable.span_on(lesson, day, self.scenario), seats))
        return found

    def held(self, day: date, week: Sequence[Usual]) -> list[Usual]:
        """The part of the usual week that is held on a day: it grew until today and is not all booked ahead."""
        number = (day - self.today).days
        if number > 0:
            share = AHEAD[min((number - 1) // 7, len(AHEAD) - 1)]
        else:
            share = max(FIRST_SHARE, 1 + (1 - FIRST_SHARE) * number / GROWS_OVER)
        there = week[: round(len(week) * share)]
        return [one for one in there if one.hour.weekday == day.weekday()]

    def _is_off(self, lesson: Usual, day: date) -> bool:
        hour, number = lesson.hour, (day - self.today).days
        shut = any(first <= number <= last for first, last in founding.CLOSED_DAYS)
        off = any(hour.teacher == who and first <= number <= last for who, first, last in founding.OFF_DAYS)
        return off or (shut and hour.studio == founding.CLOSED_STUDIO)

    def _seats(self, lesson: Usual, day: date, rng: Random, taken: set[tuple[time, str, str]]) -> Iterator[Seat]:
        fates, weights = [fate for fate, _ in FATES], [weight for _, weight in FATES]
        for number, label in zip(lesson.people, lesson.machines, strict=True):
            fate, away = rng.choices(fates, weights)[0], rng.random() < AWAY
            member = self.members[number]
            machine = self._machine(lesson, label, day, taken)
            # Today nobody is away: the sheet of the day shows a house at work.
            if machine and member.comes_on(day) and (day == self.today or not away):
                yield Seat(member, machine, self._kind(lesson.hour.studio, machine), fate)

    def _kind(self, studio: str, label: str) -> ApparatusKind:
        return next(one.kind for one in self.scenario.machines if (one.studio, one.label) == (studio, label))

    def _machine(self, lesson: Usual, label: str, day: date, taken: set[tuple[time, str, str]]) -> str | None:
        """The usual machine, or another of its kind and room while that one is out of service."""
        hour, number = lesson.hour, (day - self.today).days
        first, last = founding.OUT_DAYS
        if (hour.studio, label) != founding.OUT_OF_SERVICE or not first <= number <= last:
            return label
        out = next(one for one in self.scenario.machines if (one.studio, one.label) == founding.OUT_OF_SERVICE)
        for one in self.scenario.machines:
            key = (hour.starts, hour.studio, one.label)
            if (one.studio, one.room, one.kind) == (out.studio, out.room, out.kind) and key not in taken:
                taken.add(key)
                return one.label
        return None


def days_of(first: date, last: date) -> Iterator[date]:
    for number in range((last - first).days + 1):
        yield first + timedelta(days=number)
