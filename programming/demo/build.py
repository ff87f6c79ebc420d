"""The demo studio, built through the product's own actions in one transaction: it stands whole or not at all."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction

from clients import actions as client_actions
from clients import queries as client_queries
from programming import actions
from programming.demo import cast, enrolling, founding, timetable
from programming.demo.days import Calendar, Planned, days_of
from programming.demo.diary import Diary
from programming.demo.founding import House
from programming.demo.logbook import logbook
from programming.demo.papers import Papers
from programming.demo.scenario import PersonPlan, Scenario, scenario
from programming.demo.teaching import Teaching
from programming.demo.workshop import Workshop
from programming.queries import files
from studio import models as studio_models
from studio.actions import house as house_actions
from studio.actions import notices
from studio.rules import Role, zones

SEED = "ashlode"
FULL_DAYS = 2


@dataclass(frozen=True)
class Scale:
    """How large the studio is: clients, weeks, lessons of a usual week, places of today, share of clients logged."""

    clients: int = 140
    weeks_past: int = 12
    weeks_ahead: int = 4
    lessons: int = 80
    places_today: int = 70
    logged: float = 0.18


@dataclass(frozen=True)
class Login:
    """A way in, for the list that is shown on this machine."""

    role: str
    name: str
    email: str
    password: str


# Told how far the building is: done, of how many, and what is being done.
Tell = Callable[[int, int, str], None]


def is_there() -> bool:
    """Whether this house is anybody's: a demo that stands, or a real one; then nothing is built."""
    return studio_models.Business.objects.exists()


def build(
    *,
    now: datetime,
    seed: str = SEED,
    scale: Scale = Scale(),
    tell: Tell = lambda done, total, what: None,
    keep: Callable[[list[Login]], None] = lambda logins: None,
) -> list[Login]:
    """Build the studio as it stands at `now`; the logins, empty when there was a house already.

    `keep` is given the logins before anything is final: a studio never stands without its logins being known.
    The same `now`, seed and scale give the same people, lessons and marks; only row keys and passwords differ.
    Raises Refused when the reference is not loaded.
    """
    with transaction.atomic():
        if is_there():
            return []
        building = Building(scenario(), now, seed, scale, tell)
        building.everything()
        house_actions.finish_set_up(by=building.house.owner, now=now)
        keep(building.logins)
    return building.logins


@dataclass
class Building:
    """One building of the demo: the steps in their order, counted as they are done."""

    scenario: Scenario
    now: datetime
    seed: str
    scale: Scale
    tell: Tell
    logins: list[Login] = field(default_factory=list)
    clients: dict[int, UUID] = field(default_factory=dict)
    reminders: tuple[int, ...] = ()
    done: int = 0

    def everything(self) -> None:
        self.today = zones.local_day(self.now, self.scenario.studios[0].zone)
        self.members = cast.members(
            self.scenario,
            today=self.today,
            seed=self.seed,
            number=self.scale.clients,
            weeks=self.scale.weeks_past,
            logged=self.scale.logged,
        )
        self.week = timetable.usual_week(self.scenario, self.members, seed=self.seed, lessons=self.scale.lessons)
        self.calendar = Calendar(self.scenario, self.members, self.today, self.seed)
        self.plan()
        self.house = self.found()
        self.workshop.measure()
        self.enrol()
        self.play_past()
        self.book_ahead()
        self.play_today()
        self.last_touches()

    def plan(self) -> None:
        """All lessons of all days, and with them how much there is to do."""
        first = self.today - timedelta(weeks=self.scale.weeks_past)
        last = self.today + timedelta(weeks=self.scale.weeks_ahead)
        todays = timetable.busy_day(self.week, self.today, places=self.scale.places_today)
        self.planned: dict[date, list[Planned]] = {
            day: self.calendar.day(day, todays if day == self.today else self.calendar.held(day, self.week.lessons))
            for day in days_of(first, last)
        }
        places = sum(len(lesson.seats) for day in self.planned.values() for lesson in day)
        self.total = len(self.members) + places

    def found(self) -> House:
        keys = {plan.email: secrets.token_urlsafe(12) for plan in self.with_logins()}
        self.logins = [
            Login(" and ".join(plan.roles), plan.name, plan.email, keys[plan.email]) for plan in self.with_logins()
        ]
        house = founding.found_house(self.scenario, passwords=keys, now=self.now)
        actions.load_templates(files.shipped_templates(), now=self.now)
        founding.trouble(house, self.scenario, today=self.today, now=self.now)
        return house

    @property
    def workshop(self) -> Workshop:
        return Workshop(self.scenario, self.house, self.seed, self.now)

    @property
    def teaching(self) -> Teaching:
        usual = self.week.usual
        return Teaching(self.scenario, self.house, self.members, self.clients, usual, self.seed, self.now)

    def with_logins(self) -> list[PersonPlan]:
        """Owner, desk, and the instructors with the fullest day today."""
        people = self.scenario.people
        taught = {plan.initials: 0 for plan in people}
        for lesson in self.planned[self.today]:
            taught[lesson.lesson.hour.teacher] += len(lesson.seats)
        only = [plan for plan in people if plan.roles == (Role.INSTRUCTOR,)]
        fullest = sorted(only, key=lambda plan: -taught[plan.initials])[:FULL_DAYS]
        first = [plan for plan in people if Role.OWNER in plan.roles or plan.roles == (Role.DESK,)]
        return [*first, *fullest]

    def enrol(self) -> None:
        for member in self.members:
            self.clients[member.number] = enrolling.enrol(member, self.house, self.scenario, now=self.now)
            self.step("clients and their forms")
        book = logbook(self.scenario, self.clients[0])
        self.diary = Diary(self.scenario, self.house, self.clients, book, self.seed, self.now)
        self.teaching.meet()

    def play_past(self) -> None:
        for day in days_of(min(self.planned), self.today - timedelta(days=1)):
            for lesson in self.planned[day]:
                self.diary.play(lesson)
                self.step("lessons gone by", len(lesson.seats))
            if day.weekday() == 6:
                self.review(day)

    def review(self, day: date) -> None:
        """At a week's end reviews come due; most are held in the days that follow, some are left open."""
        at = zones.day_span(day, self.scenario.studios[0].zone).end
        client_actions.raise_due_reviews(now=at)
        for number, review in enumerate(client_queries.open_reviews(on=day)):
            if number % 6:
                by = self.house.owner
                client_actions.finish_review(review.id, by=by, now=min(at + timedelta(days=2), self.now))
            else:
                notices.withdraw(about=f"review:{review.id}", now=at)

    def book_ahead(self) -> None:
        for day in days_of(self.today + timedelta(days=1), max(self.planned)):
            for lesson in self.planned[day]:
                self.remind_of(lesson)
                self.diary.book(lesson, before=self.now - timedelta(hours=1))
                self.step("lessons to come", len(lesson.seats))

    def play_today(self) -> None:
        begun = [one for one in self.planned[self.today] if one.span.start <= self.now < one.span.end]
        for lesson in self.planned[self.today]:
            self.remind_of(lesson)
            self.diary.play_today(lesson, now=self.now, late=lesson is (begun[-1] if begun else None))
            self.step("today", len(lesson.seats))
        self.remind_at(founding.REMINDERS)

    def remind_of(self, lesson: Planned) -> None:
        """Promise the reminders that are still to leave; those of the past are nobody's letters any more."""
        self.remind_at(tuple(one for one in founding.REMINDERS if lesson.span.start - timedelta(hours=one) > self.now))

    def remind_at(self, hours: tuple[int, ...]) -> None:
        if hours != self.reminders:
            founding.remind(self.house, hours, now=self.now - timedelta(days=7))
            self.reminders = hours

    def last_touches(self) -> None:
        for member in self.members:
            if member.changed:
                client_id = self.clients[member.number]
                enrolling.sign_again(member, self.house, self.scenario, client_id, now=self.now)
        self.workshop.look()
        self.workshop.propose()
        self.workshop.draft()
        self.teaching.speak()
        self.teaching.decide()
        usual = self.week.usual
        Papers(self.scenario, self.house, self.members, self.clients, usual, self.now).turn()

    def step(self, what: str, by: int = 1) -> None:
        self.done += by
        self.tell(self.done, self.total, what)
