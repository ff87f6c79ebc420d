"""The invented studio as its data files tell it: houses, machines, people, kinds of clients and their words."""

import csv
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import time
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings

from scheduling.rules.items import ItemKind
from studio.rules import ApparatusKind, Role

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "demo"


@dataclass(frozen=True)
class StudioPlan:
    """A location. `hours` is what `set_hours` takes: {weekday: [(opens, closes)]}."""

    key: str
    name: str
    zone: ZoneInfo
    address: str
    hours: Mapping[int, list[tuple[time, time]]]
    rooms: tuple[str, ...]


@dataclass(frozen=True)
class MachinePlan:
    studio: str
    room: str
    kind: ApparatusKind
    label: str
    springs: str


@dataclass(frozen=True)
class ItemPlan:
    studio: str
    kind: ItemKind
    label: str


@dataclass(frozen=True)
class Shift:
    """A working stretch of a weekday at a studio, in wall time there."""

    studio: str
    weekday: int
    starts: time
    ends: time


@dataclass(frozen=True)
class PersonPlan:
    """Somebody who works here; `initials` are empty for one who does not teach."""

    name: str
    email: str
    roles: tuple[Role, ...]
    initials: str
    may_teach: Mapping[ApparatusKind, int]
    needs: tuple[str, ...]
    shifts: tuple[Shift, ...]


@dataclass(frozen=True)
class Persona:
    """A kind of client: how many, how old, what they tell. `stops` ends the form after so many screens.

    `is_fresh` forms were written in the last weeks, `is_today` this morning, others exactly `joined` days ago;
    `may_book` is false for who waits for a letter or for a word with the instructor. Who is `away` came regularly and
    has not been here for so many days.
    """

    key: str
    count: int
    ages: tuple[int, int]
    sex: str
    tells: Mapping[str, str | list[str]]
    stops: int | None
    is_fresh: bool
    is_today: bool
    may_book: bool
    joined: int | None = None
    away: int | None = None


@dataclass(frozen=True)
class ClientRow:
    name: str
    say_it: str
    pronoun: str
    email: str
    home: str
    sex: str


@dataclass(frozen=True)
class Scenario:
    business: str
    emergency_number: str
    studios: tuple[StudioPlan, ...]
    machines: tuple[MachinePlan, ...]
    items: tuple[ItemPlan, ...]
    people: tuple[PersonPlan, ...]
    clients: tuple[ClientRow, ...]
    personas: tuple[Persona, ...]
    words: Mapping[str, Any]
    craft: Mapping[str, Any]

    @property
    def teachers(self) -> tuple[PersonPlan, ...]:
        return tuple(person for person in self.people if person.initials)

    def zone_of(self, studio: str) -> ZoneInfo:
        return next(plan.zone for plan in self.studios if plan.key == studio)


@cache
def scenario() -> Scenario:
    """The whole scenario, read once from `fixtures/demo`."""
    house = _json("house")
    return Scenario(
        business=house["business"],
        emergency_number=house["emergency_number"],
        studios=tuple(_studio(key, told) for key, told in house["studios"].items()),
        machines=tuple(_machines(house)),
        items=tuple(ItemPlan(studio, ItemKind(kind), label) for studio, kind, label in house["items"]),
        people=tuple(_person(told, house["mail_place"]) for told in house["people"]),
        clients=tuple(_clients(house["client_mail_places"])),
        personas=tuple(_persona(key, told) for key, told in _json("personas").items()),
        words=_json("words"),
        craft=_json("craft"),
    )


def _json(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    return found


def _machines(house: Mapping[str, Any]) -> Iterator[MachinePlan]:
    for studio, room, kind, label, springs in house["machines"]:
        yield MachinePlan(studio, room, ApparatusKind(kind), label, springs)


def _studio(key: str, told: Mapping[str, Any]) -> StudioPlan:
    hours: dict[int, list[tuple[time, time]]] = {}
    for days, opens, closes in told["hours"]:
        for weekday in _weekdays(days):
            hours.setdefault(weekday, []).append((time.fromisoformat(opens), time.fromisoformat(closes)))
    zone = ZoneInfo(told["time_zone"])
    return StudioPlan(key, told["name"], zone, told["address"], hours, tuple(told["rooms"]))


def _person(told: Mapping[str, Any], mail_place: str) -> PersonPlan:
    shifts = [
        Shift(studio, weekday, time.fromisoformat(starts), time.fromisoformat(ends))
        for studio, days, starts, ends in told.get("hours", ())
        for weekday in _weekdays(days)
    ]
    return PersonPlan(
        name=told["name"],
        email=f"{told['mail']}@{mail_place}",
        roles=tuple(Role(role) for role in told["roles"]),
        initials=told.get("initials", ""),
        may_teach={ApparatusKind(kind): level for kind, level in told.get("may_teach", {}).items()},
        needs=tuple(told.get("needs", ())),
        shifts=tuple(shifts),
    )


def _persona(key: str, told: Mapping[str, Any]) -> Persona:
    waits, speaks, stops = told.get("letter", False), told.get("speak", False), told.get("stops")
    return Persona(
        key=key,
        count=told["count"],
        ages=(told["ages"][0], told["ages"][1]),
        sex=told.get("sex", ""),
        tells=told["tells"],
        stops=stops,
        is_fresh=told.get("fresh", False) or waits or stops is not None or "joined" in told or "away" in told,
        is_today=speaks,
        may_book=not (waits or speaks or stops is not None),
        joined=told.get("joined"),
        away=told.get("away"),
    )


def _clients(mail_places: list[str]) -> list[ClientRow]:
    with (FOLDER / "clients.csv").open(newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    return [
        ClientRow(
            row["name"],
            row["say_it"],
            row["pronoun"],
            f"{row['mail']}@{mail_places[number % len(mail_places)]}",
            row["home"],
            row["sex"],
        )
        for number, row in enumerate(rows)
    ]


def _weekdays(days: str) -> list[int]:
    """ "0-4" or "1,3", Monday is 0."""
    if "-" in days:
        first, last = days.split("-")
        return list(range(int(first), int(last) + 1))
    return [int(day) for day in days.split(",")]
