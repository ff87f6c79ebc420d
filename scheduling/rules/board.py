"""The days looked at as bits, and the ranking of the free ones: the working part of `openings`."""

import heapq
from collections.abc import Iterator
from datetime import datetime, timedelta
from enum import IntFlag
from typing import NamedTuple

from scheduling.rules.places import SEATS
from scheduling.rules.resources import Instructor, JoinableLesson, Machine, Opening, Resources, Studio, Wanted
from scheduling.rules.slots import SLOT_MINUTES, Slots, at_least, between, bits, starts_of_runs
from scheduling.rules.springs import alike
from studio.rules import Span, zones

# Around the horizon, so that a gap at its edge is seen whole.
MARGIN = timedelta(hours=6)


class Trait(IntFlag):
    """Why a candidate stands where it does."""

    USUAL = 1
    SAME_MACHINE = 2
    FILLS = 4
    JOINS = 8
    CLEAN = 16
    LIGHT = 32


# Weights of this house, no source: who teaches matters most, then the machine, then a day's book without holes.
WEIGHTS = {
    Trait.USUAL: 40,
    Trait.SAME_MACHINE: 20,
    Trait.FILLS: 16,
    Trait.JOINS: 12,
    Trait.CLEAN: 8,
    Trait.LIGHT: 4,
}
A_DAY_LATER = 2


class Found(NamedTuple):
    """A candidate, numbers into `Resources`; the smallest is the best. `lesson` is -1 unless a lesson is joined."""

    minus_score: int
    slot: int
    studio: int
    instructor: int
    lesson: int
    traits: int


class Board:
    """Free time of the wanted days; built once for a search, then asked for candidates."""

    def __init__(self, wanted: Wanted, resources: Resources, now: datetime) -> None:
        self.wanted, self.resources, self.now = wanted, resources, now
        self.need = -(-wanted.minutes // SLOT_MINUTES)
        self.windows = [_windows(wanted, studio) for studio in resources.studios]
        flat = [window for windows in self.windows for _, window in windows]
        start = min((window.start for window in flat), default=now)
        end = max((window.end for window in flat), default=now + timedelta(hours=1))
        self.slots = Slots.over(start - MARGIN, end + MARGIN)
        self.grid = self.slots.every(wanted.step)
        self.client_free = ~self.slots.touched(resources.client_busy)
        self.taught = {teacher.id: self.slots.touched(teacher.busy) for teacher in resources.instructors}
        self.studios = {studio.id: studio for studio in resources.studios}
        self.usable = [machine for machine in resources.machines if self._suits(machine)]
        self.free = {machine.id: self._machine_free(machine) for machine in self.usable}
        self.starts = {key: starts_of_runs(mask, self.need) for key, mask in self.free.items()}
        self.same_springs = {machine.id for machine in self.usable if self._same_springs(machine)}
        self.liking = {machine.id: self._liking(machine) for machine in self.usable}

    def ranked(self) -> Iterator[Found]:
        """Every candidate, best first."""
        light = self._light()
        streams: list[Iterator[Found]] = [iter(sorted(self._joins(light)))]
        for studio, windows in enumerate(self.windows):
            for number, instructor in enumerate(self.resources.instructors):
                if windows and self._may_teach(instructor):
                    streams += self._streams(studio, number, light)
        return heapq.merge(*streams)

    def opening(self, found: Found) -> Opening:
        """The candidate in full, on the best machines free then."""
        studio = self.resources.studios[found.studio]
        instructor = self.resources.instructors[found.instructor]
        if found.lesson >= 0:
            lesson = self.resources.lessons[found.lesson]
            span, machines = lesson.span, self._machines_to_join(lesson, instructor)
        else:
            start = self.slots.instant(found.slot)
            span = Span(start, start + timedelta(minutes=self.wanted.minutes))
            machines = self._machines_at(found.slot, studio, instructor)
        return Opening(
            span,
            studio.id,
            instructor.id,
            tuple(machine.id for machine in machines),
            -found.minus_score,
            self._reasons(found, instructor, machines),
            self.resources.lessons[found.lesson].id if found.lesson >= 0 else None,
        )

    def _suits(self, machine: Machine) -> bool:
        wanted = self.wanted
        right_kind = wanted.apparatus_kind in (None, machine.kind) and machine.studio_id in self.studios
        return right_kind and (not wanted.apparatus_ids or machine.id in wanted.apparatus_ids)

    def _machine_free(self, machine: Machine) -> int:
        turn = timedelta(minutes=self.studios[machine.studio_id].turnaround_minutes)
        kept = [Span(span.start - turn, span.end + turn) for span in machine.busy] if turn else machine.busy
        served = self.slots.all if machine.in_service is None else self.slots.within(machine.in_service)
        return served & ~self.slots.touched(kept)

    def _may_teach(self, instructor: Instructor) -> bool:
        wanted = self.wanted
        asked_for = not wanted.instructor_ids or instructor.id in wanted.instructor_ids
        return asked_for and wanted.needs <= instructor.cleared_for

    def _own_time(self, instructor: Instructor, studio: Studio) -> int:
        worked = self.slots.within(instructor.work.get(studio.id, ())) & self.slots.within(studio.opening)
        return worked & ~self.taught[instructor.id]

    def _machines_for(self, instructor: Instructor, studio: Studio) -> list[Machine]:
        level = self.wanted.level
        return [
            machine
            for machine in self.usable
            if machine.studio_id == studio.id and instructor.teaches.get(machine.kind, 0) >= level
        ]

    def _light(self) -> set[int]:
        """Numbers of the teachers with clearly more free time than the others who could teach this."""
        shares: dict[int, float] = {}
        for number, instructor in enumerate(self.resources.instructors):
            spans = [span for work in instructor.work.values() for span in work]
            worked = self.slots.within(spans).bit_count()
            if worked and self._may_teach(instructor):
                shares[number] = self.taught[instructor.id].bit_count() / worked
        mean = sum(shares.values()) / len(shares) if shares else 0.0
        return {number for number, share in shares.items() if share < mean - 0.05}

    def _streams(self, studio_number: int, number: int, light: set[int]) -> list[Iterator[Found]]:
        studio, instructor = self.resources.studios[studio_number], self.resources.instructors[number]
        own = self._own_time(instructor, studio)
        starts = starts_of_runs(own & self.client_free, self.need) & self.grid
        starts &= self._enough_machines(self._machines_for(instructor, studio))
        if not starts:
            return []
        traits = Trait(0)
        if instructor.id == self.resources.usual_instructor_id:
            traits |= Trait.USUAL
        if number in light:
            traits |= Trait.LIGHT
        same = self._same_machine_starts(instructor, studio)
        fills, clean = _gaps(own, self.need, studio)
        streams = []
        for extra, mask in ((Trait.SAME_MACHINE, starts & same), (Trait(0), starts & ~same)):
            for gap, part in (
                (Trait.FILLS, mask & fills),
                (Trait.CLEAN, mask & clean & ~fills),
                (Trait(0), mask & ~clean & ~fills),
            ):
                if part:
                    streams.append(self._stream(part, studio_number, number, traits | extra | gap))
        return streams

    def _enough_machines(self, machines: list[Machine]) -> int:
        least = max(self.wanted.seats, SEATS[self.wanted.kind][0])
        starts = 0
        for room in {machine.room for machine in machines}:
            starts |= at_least((self.starts[machine.id] for machine in machines if machine.room == room), least)
        return starts

    def _same_machine_starts(self, instructor: Instructor, studio: Studio) -> int:
        last = self.resources.last_machine_id
        machines = self._machines_for(instructor, studio)
        room = next((machine.room for machine in machines if machine.id == last), None)
        if room is None:
            return 0
        beside = [machine for machine in machines if machine.room == room]
        return self.starts[last] & self._enough_machines(beside) if last is not None else 0

    def _stream(self, mask: int, studio: int, instructor: int, traits: Trait) -> Iterator[Found]:
        base = _weight(traits)
        for days, window in self.windows[studio]:
            first = max(self.slots.ceil(window.start), self.slots.ceil(self.now))
            last = self.slots.floor(window.end - timedelta(minutes=self.wanted.minutes))
            day = between(first, last + 1)
            low = (day & -day).bit_length() - 1 if day else 0
            for slot in bits((mask & day) >> low):
                yield Found(A_DAY_LATER * days - base, slot + low, studio, instructor, -1, traits)

    def _joins(self, light: set[int]) -> Iterator[Found]:
        studios = {studio.id: number for number, studio in enumerate(self.resources.studios)}
        people = {instructor.id: number for number, instructor in enumerate(self.resources.instructors)}
        for index, lesson in enumerate(self.resources.lessons):
            number, studio = people.get(lesson.instructor_id), studios.get(lesson.studio_id)
            if number is None or studio is None or not self._may_join(lesson, self.resources.instructors[number]):
                continue
            machines = self._machines_to_join(lesson, self.resources.instructors[number])
            days = next((days for days, window in self.windows[studio] if window.contains(lesson.span)), None)
            if days is None or not machines:
                continue
            traits = Trait.JOINS
            traits |= Trait.USUAL if lesson.instructor_id == self.resources.usual_instructor_id else Trait(0)
            traits |= Trait.LIGHT if number in light else Trait(0)
            traits |= Trait.SAME_MACHINE if machines[0].id == self.resources.last_machine_id else Trait(0)
            slot = self.slots.floor(lesson.span.start)
            yield Found(A_DAY_LATER * days - _weight(traits), slot, studio, number, index, traits)

    def _may_join(self, lesson: JoinableLesson, instructor: Instructor) -> bool:
        wanted = self.wanted
        alike_lesson = lesson.kind is wanted.kind and lesson.span.minutes == wanted.minutes
        seats_left = lesson.seats_total - lesson.seats_taken >= wanted.seats
        low_enough = lesson.level is None or lesson.level <= wanted.level
        ahead = lesson.span.start >= self.now
        return alike_lesson and seats_left and low_enough and ahead and self._may_teach(instructor)

    def _machines_to_join(self, lesson: JoinableLesson, instructor: Instructor) -> list[Machine]:
        """The best machines free in the lesson's room, as many as people come; none when there are too few."""
        taken = self.slots.touched([lesson.span])
        if taken & ~self.client_free:
            return []
        free = [
            machine
            for machine in self._machines_for(instructor, self.studios[lesson.studio_id])
            if machine.room == lesson.room and not taken & ~self.free[machine.id]
        ]
        free.sort(key=lambda machine: self.liking[machine.id])
        return free[: self.wanted.seats] if len(free) >= self.wanted.seats else []

    def _machines_at(self, slot: int, studio: Studio, instructor: Instructor) -> list[Machine]:
        least = max(self.wanted.seats, SEATS[self.wanted.kind][0])
        free = [machine for machine in self._machines_for(instructor, studio) if self.starts[machine.id] >> slot & 1]
        free.sort(key=lambda machine: self.liking[machine.id])
        for best in free:
            beside = [machine for machine in free if machine.room == best.room]
            if len(beside) >= least:
                return beside[: self.wanted.seats]
        return []

    def _liking(self, machine: Machine) -> tuple[bool, bool, int]:
        """Last time's machine first, then one with its springs, then the one least used."""
        used = self.slots.touched(machine.busy).bit_count()
        return machine.id != self.resources.last_machine_id, machine.id not in self.same_springs, used

    def _same_springs(self, machine: Machine) -> bool:
        last = self.resources.machine(self.resources.last_machine_id)
        if last is None or not last.springs or last.kind is not machine.kind:
            return False
        return alike(last.springs, machine.springs)

    def _reasons(self, found: Found, instructor: Instructor, machines: list[Machine]) -> tuple[str, ...]:
        traits, kind = Trait(found.traits), self.wanted.kind.words
        same_springs = not traits & Trait.SAME_MACHINE and any(machine.id in self.same_springs for machine in machines)
        says = (
            (Trait.JOINS & traits, f"A {kind} lesson with a free seat."),
            (Trait.USUAL & traits, f"Keeps the usual teacher, {instructor.name}."),
            (Trait.SAME_MACHINE & traits, "The same machine as last time."),
            (same_springs, "The same springs as last time."),
            (Trait.FILLS & traits, "Fills a gap that would stay empty."),
            (Trait.CLEAN & traits, "Leaves no gap too short to sell."),
            (Trait.LIGHT & traits, f"Spreads the load: {instructor.name} has more time free than the others."),
        )
        return tuple(words for told, words in says if told) or ("Free at that time.",)


def _windows(wanted: Wanted, studio: Studio) -> list[tuple[int, Span]]:
    """For each wanted day: how many days after the first, and the span between the wanted wall times."""
    if wanted.studio_ids and studio.id not in wanted.studio_ids:
        return []
    days = sorted(set(wanted.days))
    found = []
    for day in days:
        start = zones.at(day, wanted.earliest, studio.zone).instant
        whole = zones.day_span(day, studio.zone)
        end = zones.at(day, wanted.latest, studio.zone).instant if wanted.latest else whole.end
        if start < end:
            found.append(((day - days[0]).days, Span(start, end)))
    return found


def _gaps(own: int, need: int, studio: Studio) -> tuple[int, int]:
    """The starts that fill a gap of the teacher's own time, and those that leave no rest too short to sell."""
    turn = -(-studio.turnaround_minutes // SLOT_MINUTES)
    shortest = max(-(-studio.shortest_minutes // SLOT_MINUTES), turn + 1)
    more, sellable = starts_of_runs(own, turn + 1), starts_of_runs(own, shortest)
    none_before, none_after = ~(more << turn + 1), ~(more >> need)
    good_before, good_after = none_before | sellable << shortest, none_after | sellable >> need
    return none_before & none_after, good_before & good_after


def _weight(traits: Trait) -> int:
    return sum(weight for trait, weight in WEIGHTS.items() if trait & traits)
