"""The house before anybody comes: its owner, locations, machines and the people who work in it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from programming.demo.scenario import PersonPlan, Scenario, StudioPlan
from scheduling import actions as scheduling_actions
from scheduling.actions import items
from studio import models as studio_models
from studio.actions import house as house_actions
from studio.actions import people as people_actions
from studio.rules import Role, Span, zones

OUT_OF_SERVICE = ("yard", "Reformer 4")
CLOSED_STUDIO = "street"
# Days from today, first and last: one closure behind, one ahead.
CLOSED_DAYS = ((-33, -33), (16, 17))
OUT_DAYS = (-1, 5)
OFF_DAYS = (("KT", -20, -17), ("RV", 9, 11))
REMINDERS = (48, 3)
OPENED_BEFORE = timedelta(days=420)


@dataclass(frozen=True)
class Teacher:
    instructor_id: int
    person: studio_models.Person


@dataclass
class House:
    """What stands and who works in it, by the names of the scenario."""

    owner: studio_models.Person
    desk: studio_models.Person
    studios: dict[str, int] = field(default_factory=dict)
    machines: dict[tuple[str, str], int] = field(default_factory=dict)
    teachers: dict[str, Teacher] = field(default_factory=dict)


def found_house(scenario: Scenario, *, passwords: Mapping[str, str], now: datetime) -> House:
    """Open the house a year and some weeks before `now`. `passwords` by e-mail; who has none cannot log in.

    Reminders stay off until `remind` is called: what happened before today has nobody to tell.
    """
    opened = now - OPENED_BEFORE
    owner_plan = next(plan for plan in scenario.people if Role.OWNER in plan.roles)
    owner = house_actions.open_house(
        name=owner_plan.name, email=owner_plan.email, password=passwords[owner_plan.email], now=opened
    )
    house_actions.name_house(
        business=scenario.business, emergency_number=scenario.emergency_number, by=owner, now=opened
    )
    people_actions.change_roles(owner.pk, roles=owner_plan.roles, by=owner, now=opened)
    owner.refresh_from_db()
    house = House(owner, owner)
    for plan in scenario.studios:
        _add_studio(house, plan, opened)
    _add_machines(house, scenario, opened)
    for person in scenario.people:
        _add_person(house, person, passwords.get(person.email), opened)
    return house


def remind(house: House, hours: tuple[int, ...], *, now: datetime) -> None:
    """Set at how many hours before a lesson the house reminds people who are booked from here on."""
    for studio_id in house.studios.values():
        house_actions.set_policy(
            studio_id,
            lesson_minutes=55,
            turnaround_minutes=5,
            cancel_hours=12,
            reminder_hours=hours,
            by=house.owner,
            now=now,
        )


def trouble(house: House, scenario: Scenario, *, today: date, now: datetime) -> None:
    """What gets in the way: a machine out of service, closed days, teachers who are off."""
    for first, last in CLOSED_DAYS:
        house_actions.close_days(
            house.studios[CLOSED_STUDIO],
            first_day=today + timedelta(days=first),
            last_day=today + timedelta(days=last),
            why=scenario.words["closure"],
            by=house.owner,
            now=now - timedelta(days=60),
        )
    scheduling_actions.take_out_of_service(
        house.machines[OUT_OF_SERVICE],
        span=_days(scenario, OUT_OF_SERVICE[0], today, *OUT_DAYS),
        why=scenario.words["out_of_service"],
        by=house.owner,
        now=now - timedelta(days=1),
    )
    for number, (initials, first, last) in enumerate(OFF_DAYS):
        scheduling_actions.add_time_off(
            house.teachers[initials].instructor_id,
            span=_days(scenario, "yard", today, first, last),
            why=scenario.words["time_off"][number],
            by=house.owner,
            now=now - timedelta(days=40),
        )


def _days(scenario: Scenario, studio: str, today: date, first: int, last: int) -> Span:
    zone = scenario.zone_of(studio)
    start = zones.at(today + timedelta(days=first), time(0), zone).instant
    return Span(start, zones.at(today + timedelta(days=last + 1), time(0), zone).instant)


def _add_studio(house: House, plan: StudioPlan, now: datetime) -> None:
    studio = house_actions.add_studio(
        name=plan.name, time_zone=plan.zone.key, address=plan.address, by=house.owner, now=now
    )
    house_actions.set_hours(studio.pk, plan.hours, by=house.owner, now=now)
    house.studios[plan.key] = studio.pk


def _add_machines(house: House, scenario: Scenario, now: datetime) -> None:
    remind(house, (), now=now)
    rooms = {
        (plan.key, name): scheduling_actions.add_room(
            studio_id=house.studios[plan.key], name=name, by=house.owner, now=now
        )
        for plan in scenario.studios
        for name in plan.rooms
    }
    for machine in scenario.machines:
        added = scheduling_actions.add_apparatus(
            studio_id=house.studios[machine.studio],
            room_id=rooms[machine.studio, machine.room].pk,
            kind=machine.kind,
            label=machine.label,
            springs=machine.springs,
            by=house.owner,
            now=now,
        )
        house.machines[machine.studio, machine.label] = added.pk
    for item in scenario.items:
        items.add_item(studio_id=house.studios[item.studio], kind=item.kind, label=item.label, by=house.owner, now=now)


def _add_person(house: House, plan: PersonPlan, password: str | None, now: datetime) -> None:
    person = house.owner
    if Role.OWNER not in plan.roles:
        person = people_actions.add_person(
            name=plan.name, email=plan.email, roles=plan.roles, password=password, by=house.owner, now=now
        )
    if plan.roles == (Role.DESK,):
        house.desk = person
    if not plan.initials:
        return
    instructor = scheduling_actions.add_instructor(
        person_id=person.pk,
        initials=plan.initials,
        may_teach=plan.may_teach,
        hours=[(house.studios[shift.studio], shift.weekday, shift.starts, shift.ends) for shift in plan.shifts],
        needs=plan.needs,
        by=house.owner,
        now=now,
    )
    house.teachers[plan.initials] = Teacher(instructor.pk, person)
