"""The days play: places booked, people who come or do not, lessons taught and logged; each action is told its time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from random import Random
from uuid import UUID

from programming import models
from programming.actions import checkins, groups
from programming.demo.cast import Member
from programming.demo.days import Fate, Planned, Seat
from programming.demo.founding import House, Teacher
from programming.demo.logbook import Logbook, Telling
from programming.demo.scenario import Scenario
from programming.rules.checkins import Answers, Side, Slept, Sore
from scheduling import actions as scheduling_actions
from scheduling.models import Place
from scheduling.rules.places import LessonKind, PlaceState
from studio.rules import Refused, zones

FORM_DONE = time(14)
IN_TIME, LATE = timedelta(hours=30), timedelta(hours=3)
FIVE, TEN = timedelta(minutes=5), timedelta(minutes=10)
SOON = timedelta(minutes=20)
GONE = (Fate.CANCELLED, Fate.CANCELLED_LATE)
GROUP_PLANS = 3


@dataclass
class Diary:
    """Who is who by the scenario's numbers and names, and what was done so far.

    `started` is the instant of the story that chance counts from; `came` counts lessons by client, `asked` check-ins,
    `grouped` group plans.
    """

    scenario: Scenario
    house: House
    clients: Mapping[int, UUID]
    logbook: Logbook
    seed: str
    started: datetime
    came: dict[int, int] = field(default_factory=dict)
    asked: int = 0
    grouped: int = 0

    def book(self, planned: Planned, *, before: datetime) -> list[tuple[Seat, Place]]:
        """Book everybody who asked for the lesson, one to six days ahead of it and always before `before`."""
        lesson, places = planned.lesson, []
        booked_at = self._booked_at(planned, before)
        lesson_id: UUID | None = None
        for seat in planned.seats:
            place = scheduling_actions.book_place(
                client_id=self.clients[seat.member.number],
                apparatus_id=self.house.machines[lesson.hour.studio, seat.machine],
                instructor_id=self._teacher(planned).instructor_id,
                span=planned.span,
                kind=lesson.kind,
                by=self.house.desk,
                now=booked_at,
                lesson_id=lesson_id,
                seats=None if lesson_id else lesson.seats,
            )
            lesson_id = place.lesson_id
            places.append((seat, place))
        return places

    def play(self, planned: Planned) -> None:
        """A lesson of a day gone by: booked, and what became of it."""
        for seat, place in self.book(planned, before=planned.span.start):
            self._settle(planned, seat, place)

    def play_today(self, planned: Planned, *, now: datetime, late: bool) -> None:
        """A lesson of today as it stands at `now`: over, going on, soon or still to come.

        `late` keeps the first of a lesson that has begun from having come in yet.
        """
        span = planned.span
        booked = self.book(planned, before=min(now - timedelta(hours=20), span.start - timedelta(hours=2)))
        if span.end > now:
            for seat, place in booked:
                if seat.fate in GONE:
                    self._cancel(planned, place, seat.fate, before=min(span.start, now) - TEN)
            self._plan_group(planned, booked, min(span.start, now) - FIVE)
        for number, (seat, place) in enumerate(booked):
            if span.end <= now:
                self._settle(planned, seat, place)
            elif seat.fate not in GONE:
                program = self._plan(planned, seat, place, now - timedelta(hours=2))
                if program and not program.group_plan_id and span.start <= now + SOON:
                    program = self._check_in(planned, place, program, min(span.start, now) - FIVE)
                if span.start <= now and not (late and number == 0):
                    self._begin(planned, seat, place, program, now)
                elif now < span.start <= now + SOON and number == 0:
                    self._arrive(place, now - FIVE)

    def _settle(self, planned: Planned, seat: Seat, place: Place) -> None:
        span, by = planned.span, self.house.desk
        if seat.fate in GONE:
            self._cancel(planned, place, seat.fate, before=span.start)
        elif seat.fate is Fate.MISSED:
            scheduling_actions.mark_place(place.pk, state=PlaceState.MISSED, by=by, now=span.start + SOON)
        else:
            self._teach(planned, seat, place)

    def _cancel(self, planned: Planned, place: Place, fate: Fate, *, before: datetime) -> None:
        ahead = IN_TIME if fate is Fate.CANCELLED else LATE
        at = min(max(planned.span.start - ahead, place.booked_at + TEN), before)
        scheduling_actions.mark_place(place.pk, state=PlaceState.CANCELLED, by=self.house.desk, now=at)

    def _teach(self, planned: Planned, seat: Seat, place: Place) -> None:
        span, by, member = planned.span, self._teacher(planned).person, seat.member
        self.came[member.number] = self.came.get(member.number, 0) + 1
        program = self._plan(planned, seat, place, span.start - timedelta(hours=1)) if member.is_logged else None
        if program is None:
            scheduling_actions.complete_place(place.pk, by=by, now=span.end)
            return
        self.logbook.keep(program, place, span, by=by, telling=self._telling(planned, member), now=self.started)

    def _plan(self, planned: Planned, seat: Seat, place: Place, now: datetime) -> models.Program | None:
        """A program for the place: its part of a plan for all, else one of her own; a small group has no other."""
        if planned.lesson.kind is not LessonKind.PRIVATE:
            found = models.Program.objects.filter(place=place, replaced_at=None).first()
            if found or planned.lesson.kind is LessonKind.SMALL_GROUP:
                return found
        return self.logbook.assign(
            place,
            seat.kind,
            steady=seat.member.is_steady,
            lessons=self.came.get(seat.member.number, 0),
            by=self._teacher(planned).person,
            now=now,
        )

    def _plan_group(self, planned: Planned, booked: Sequence[tuple[Seat, Place]], at: datetime) -> None:
        """One plan for a group of today, for the first few; where somebody is taught alone for now there is none."""
        if planned.lesson.kind is LessonKind.PRIVATE or self.grouped >= GROUP_PLANS:
            return
        found = self.logbook.for_group(booked[0][0].kind)
        if found is None:
            return
        teacher = self._teacher(planned).person
        try:
            groups.make_group_plan(booked[0][1].lesson_id, template_id=found.id, by=teacher, now=at)
        except Refused:
            return
        self.grouped += 1

    def _begin(self, planned: Planned, seat: Seat, place: Place, program: models.Program | None, now: datetime) -> None:
        """The client is here and the lesson has begun; with a program the first lines are marked already."""
        by, start = self._teacher(planned).person, planned.span.start
        self._arrive(place, start - FIVE)
        if program is None:
            scheduling_actions.start_lesson(place.pk, by=by, now=start)
        else:
            self.logbook.begin(
                program, place, planned.span, by=by, now=now, telling=self._telling(planned, seat.member)
            )

    def _check_in(self, planned: Planned, place: Place, program: models.Program, at: datetime) -> models.Program:
        """The minute before the lesson: the first who are asked have something sore, and are fitted for today."""
        told = self.scenario.craft["check_ins"]
        sore = told[self.asked] if self.asked < len(told) else None
        self.asked += 1
        answers = Answers(slept=Slept.WELL)
        if sore:
            side = Side(sore["side"]) if sore["side"] else None
            answers = Answers((Sore(sore["sore"], side),), sore["pain"], Slept(sore["slept"]))
        checked = checkins.check_in(place.pk, answers=answers, by=self._teacher(planned).person, now=at)
        return models.Program.objects.get(pk=checked.program_id or program.pk)

    def _arrive(self, place: Place, at: datetime) -> None:
        scheduling_actions.mark_place(place.pk, state=PlaceState.HERE, by=self.house.desk, now=at)

    def _booked_at(self, planned: Planned, before: datetime) -> datetime:
        """Some days before the lesson and before `before`, but not before everybody's form was signed."""
        rng = Random(f"{self.seed}:{planned.span.start.isoformat()}:{planned.lesson.hour.teacher}")
        days, hours, minutes = rng.randint(1, 6), rng.randint(0, 4), rng.randint(1, 55)
        asked = min(planned.span.start, before) - timedelta(days=days, hours=hours, minutes=minutes)
        zone = self.scenario.zone_of(planned.lesson.hour.studio)
        signed = max(zones.at(seat.member.joined, FORM_DONE, zone).instant for seat in planned.seats)
        return min(max(asked, signed), before)

    def _telling(self, planned: Planned, member: Member) -> Telling:
        when = (planned.span.start - self.started).total_seconds()
        rng = Random(f"{self.seed}:{member.number}:{when}")
        return Telling(rng, self.came.get(member.number, 0), Random(f"{self.seed}:{member.number}:aims"))

    def _teacher(self, planned: Planned) -> Teacher:
        return self.house.teachers[planned.lesson.hour.teacher]
