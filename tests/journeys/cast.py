"""The house that the story is played in, and who is in it; made by the product's own actions."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from clients import actions as client_actions
from clients import models as client_models
from programming import actions as programming_actions
from programming.queries import files
from scheduling import actions as scheduling_actions
from scheduling import models as scheduling_models
from studio import models as studio_models
from studio.actions import house as house_actions
from studio.actions import people as people_actions
from studio.rules import ApparatusKind, Role
from tests import make_clients, reference
from tests.make import PASSWORD

ZONE = ZoneInfo("Europe/Lisbon")
MONDAY = date(2026, 3, 9)
THURSDAY = date(2026, 3, 12)
OPENED = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
# Four springs each, on no two machines the same.
SPRINGS = ("HHMML", "HHMLL", "HHHML", "HMMLL")
OWNER = "teodora@studio.example"
DESK = "wilma@studio.example"
OTHER_DESK = "pell@studio.example"
TEACHER = "henrike@studio.example"


def at(day: date, hour: int, minute: int = 0) -> datetime:
    """An instant in UTC of the house's own wall clock."""
    return datetime.combine(day, time(hour, minute), ZONE).astimezone(UTC)


@dataclass
class Cast:
    owner: studio_models.Person
    teachers: list[scheduling_models.Instructor]
    reformers: list[scheduling_models.Apparatus]
    namesake: client_models.Client
    friend: client_models.Client


def gather() -> Cast:
    """The house as it stands on the Monday of the story."""
    owner = house_actions.set_up(
        business="Slow Carriage House", owner_name="Teodora Quist", owner_email=OWNER, password=PASSWORD, now=OPENED
    )
    studio = _location(owner)
    programming_actions.load_reference(reference.tables(), now=OPENED)
    programming_actions.load_templates(files.shipped_templates(), now=OPENED)
    room = scheduling_actions.add_room(studio_id=studio.pk, name="Long Room", by=owner, now=OPENED)
    reformers = [
        scheduling_actions.add_apparatus(
            studio_id=studio.pk,
            room_id=room.pk,
            kind=ApparatusKind.REFORMER,
            label=f"Reformer {number}",
            springs=springs,
            by=owner,
            now=OPENED,
        )
        for number, springs in enumerate(SPRINGS, 1)
    ]
    for name, email in (("Wilma Ostrander", DESK), ("Pell Ardane", OTHER_DESK)):
        _works_here(name, email, Role.DESK, owner)
    teachers = [
        _teaches("Henrike Aldous", TEACHER, "HA", studio, owner),
        _teaches("Bastiane Koll", "bastiane@studio.example", "BK", studio, owner),
    ]
    return Cast(owner, teachers, reformers, _known("Ruvena Tarnelow", "r.t@mail.example"), _known("Odalys Venn", ""))


def _location(owner: studio_models.Person) -> studio_models.Studio:
    studio = house_actions.add_studio(name="Tannery Yard", time_zone=ZONE.key, by=owner, now=OPENED)
    week = {day: [(time(7), time(21))] for day in range(6)}
    house_actions.set_hours(studio.pk, week, by=owner, now=OPENED)
    house_actions.set_policy(
        studio.pk,
        lesson_minutes=55,
        turnaround_minutes=5,
        cancel_hours=12,
        reminder_hours=[24],
        by=owner,
        now=OPENED,
    )
    return studio


def _works_here(name: str, email: str, role: Role, owner: studio_models.Person) -> studio_models.Person:
    return people_actions.add_person(name=name, email=email, roles=[role], password=PASSWORD, by=owner, now=OPENED)


def _teaches(
    name: str, email: str, initials: str, studio: studio_models.Studio, owner: studio_models.Person
) -> scheduling_models.Instructor:
    person = _works_here(name, email, Role.INSTRUCTOR, owner)
    return scheduling_actions.add_instructor(
        person_id=person.pk,
        initials=initials,
        may_teach=dict.fromkeys(ApparatusKind, 5),
        hours=[(studio.pk, day, time(7), time(21)) for day in range(6)],
        by=owner,
        now=OPENED,
    )


def _known(name: str, email: str) -> client_models.Client:
    """Somebody on file with a current form, who may be written to."""
    made = make_clients.client(name, email=email, now=OPENED)
    client_actions.give_consent(made.pk, kind="messages", given_by=name, by=None, now=OPENED)
    make_clients.signed_form(made, signature=name, now=OPENED)
    return made
