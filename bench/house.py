"""The house the benchmarks play in, made by the product's own actions."""

import random
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from clients import models as client_models
from studio.models import Person
from studio.rules import Role, Span
from tests import make, make_scheduling

SEED = 20260
LESSON = timedelta(minutes=55)
HOURS = range(7, 21)


@dataclass(frozen=True)
class World:
    house: make_scheduling.House
    clients: list[client_models.Client]
    desk: Person
    now: datetime

    @property
    def monday(self) -> date:
        """The first Monday that lies wholly ahead."""
        return self.now.date() + timedelta(days=7 - self.now.weekday())

    def hour(self, day: int, hour: int) -> Span:
        """The lesson of 55 minutes at this wall hour, `day` working days (no Sundays) after the Monday."""
        on = self.monday + timedelta(days=day // 6 * 7 + day % 6)
        start = datetime.combine(on, time(hour), self.house.zone)
        return Span(start, start + LESSON)


def build(*, reformers: int, teachers: int, clients: int) -> World:
    """One house open 7 to 21 but Sundays, its teachers there all that time, every client's form in force.

    At most sixty clients: their names must not look alike.
    """
    now = datetime.now(UTC)
    house = make_scheduling.house(reformers=reformers)
    more = range(len(house.teachers), teachers)
    house.teachers += [make_scheduling.teacher(f"Teacher {number}", f"T{number}", house) for number in more]
    until = now.date() + timedelta(days=365)
    people = [
        make_scheduling.client(name, email=f"client{number}@mail.example", form_until=until)
        for number, name in enumerate(make_scheduling.names()[:clients])
    ]
    return World(house, people, make.person(Role.DESK), now)


def dice(name: str) -> random.Random:
    """Chance that falls the same way in every run."""
    return random.Random(f"{SEED}:{name}")
