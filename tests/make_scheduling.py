"""A house with machines, teachers and clients who may be booked; made by the product's own actions."""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from clients import actions as client_actions
from clients import models as client_models
from clients.rules.outcomes import Outcome
from scheduling import actions, models
from scheduling.rules.places import LessonKind
from studio import models as studio_models
from studio.rules import ApparatusKind, Role, Span, zones
from tests import make, make_clients

# A Thursday in no zone's week of a clock change.
DAY = date(2026, 3, 12)
NOW = datetime(2026, 3, 9, 8, 0, tzinfo=ZoneInfo("UTC"))
LISBON = ZoneInfo("Europe/Lisbon")
EVERY_KIND = dict.fromkeys(ApparatusKind, 5)


def at(hour: int, minute: int = 0, *, day: date = DAY, zone: ZoneInfo = LISBON) -> datetime:
    return zones.at(day, time(hour, minute), zone).instant


def span(hour: int, minute: int = 0, *, minutes: int = 55, day: date = DAY, zone: ZoneInfo = LISBON) -> Span:
    start = at(hour, minute, day=day, zone=zone)
    return Span(start, start + timedelta(minutes=minutes))


@dataclass
class House:
    """One studio with a room, three reformers and two teachers."""

    studio: studio_models.Studio
    room: models.Room
    reformers: list[models.Apparatus]
    teachers: list[models.Instructor] = field(default_factory=list)

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.studio.time_zone)


def house(zone: str = "Europe/Lisbon", *, reformers: int = 3, name: str = "Tannery Yard", **policy: Any) -> House:
    """Open 7 to 21 but Sundays, two teachers who work all that time, no machine ever out."""
    made = make.studio(zone, name=name, **policy)
    room = actions.add_room(studio_id=made.pk, name="Long Room", by=None, now=NOW)
    machines = [machine(made, room, f"Reformer {number + 1}") for number in range(reformers)]
    found = House(made, room, machines)
    found.teachers = [
        teacher("Iselde Ottrevane", "IO", found),
        teacher("Dunmaro Oyelisk", "DO", found),
    ]
    return found


def machine(
    made: studio_models.Studio,
    room: models.Room,
    label: str,
    *,
    kind: ApparatusKind = ApparatusKind.REFORMER,
    springs: str = "HHMML",
) -> models.Apparatus:
    return actions.add_apparatus(
        studio_id=made.pk,
        room_id=room.pk,
        kind=kind,
        label=label,
        springs=springs,
        by=None,
        now=NOW,
        in_service_from=date(2020, 1, 1),
    )


def teacher(
    name: str,
    initials: str,
    *houses: House,
    may_teach: dict[ApparatusKind, int] | None = None,
    starts: time = time(7),
    ends: time = time(21),
    days: tuple[int, ...] = (0, 1, 2, 3, 4, 5),
) -> models.Instructor:
    """A teacher; the same initials in two houses are made different by a number."""
    taken = models.Instructor.objects.filter(initials=initials).exists()
    return actions.add_instructor(
        person_id=make.person(Role.INSTRUCTOR, name=name).pk,
        initials=f"{initials}{models.Instructor.objects.count()}" if taken else initials,
        may_teach=EVERY_KIND if may_teach is None else may_teach,
        hours=[(found.studio.pk, day, starts, ends) for found in houses for day in days],
        by=None,
        now=NOW,
    )


def client(name: str = "Pranvi Somadur", *, email: str = "", form_until: date = date(2027, 1, 1), **words: object):
    """A client whose screening is clear until `form_until`; with an address, she agreed to messages."""
    made = make_clients.client(name, email=email, now=NOW, **words)
    if email:
        client_actions.give_consent(made.pk, kind="messages", given_by=made.name, by=None, now=NOW)
    give_form(made, until=form_until)
    return made


def give_form(made: client_models.Client, *, until: date, outcome: Outcome = Outcome.CLEAR) -> None:
    """A signed form with a decision, written straight into the tables: screening itself is the clients' subject."""
    rule_set = client_models.RuleSet.objects.first() or client_models.RuleSet.objects.create(
        digest="0" * 64, tables={}, loaded_at=NOW, in_force=True
    )
    signed = client_models.HealthForm.objects.create(
        client=made,
        version=1,
        state="signed",
        sealed_answers=b"-",
        started_at=NOW,
        saved_at=NOW,
        signed_at=NOW,
        signed_name=made.name,
        signed_as="client",
    )
    client_models.Screening.objects.create(
        client=made,
        form=signed,
        rule_set=rule_set,
        outcome=outcome.value,
        sealed_reasons=b"-",
        sealed_limits=b"-",
        decided_at=NOW,
        valid_until=until,
    )


def book(
    found: House,
    who: client_models.Client,
    when: Span,
    *,
    machine: int = 0,
    teacher: int = 0,
    kind: LessonKind = LessonKind.PRIVATE,
    lesson_id: UUID | None = None,
    now: datetime = NOW,
    by: studio_models.Person | None = None,
) -> models.Place:
    return actions.book_place(
        client_id=who.pk,
        apparatus_id=found.reformers[machine].pk,
        instructor_id=found.teachers[teacher].pk,
        span=when,
        kind=kind,
        lesson_id=lesson_id,
        by=by,
        now=now,
    )


FIRST = ["Oswin", "Tovelin", "Noorin", "Niawen", "Caryth", "Reuvard", "Wandra", "Gretlin", "Bertrick", "Leilune"]
LAST = ["Threll", "Hagsund", "Qazimbar", "Prothlyn", "Bevlan", "Stokmere"]


def names() -> list[str]:
    """Sixty invented names."""
    return [f"{one} {two}" for two in LAST for one in FIRST]
