"""A house on a full day: a place at every hour on every machine, and one row of everything that has an address."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.urls import reverse
from pytest_django import DjangoDbBlocker

from clients import actions as client_actions
from clients import models as client_models
from clients import queries as client_queries
from clients.actions import runs as rule_runs
from clients.actions import workbench
from clients.rules import Pressure
from clients.rules.readings import Sitting
from programming import models as programming_models
from programming.actions import approvals, decisions, drafts, grants, proposals, waivers
from programming.actions import groups as group_actions
from programming.rules.building import PutRow
from programming.rules.entries import About
from programming.rules.progress import Step
from scheduling import actions as scheduling_actions
from scheduling import models as scheduling_models
from scheduling.actions import calibrations
from scheduling.actions import items as item_actions
from scheduling.actions import springs as spring_actions
from scheduling.rules.items import ItemKind
from scheduling.rules.places import LessonKind
from studio import models as studio_models
from studio.actions import house as house_actions
from studio.actions import people as people_actions
from studio.rules import Role, Span
from tests import make, make_clients, make_programming, make_scheduling, papers
from tests.make_programming import BONES
from tests.make_scheduling import DAY, NOW, House, at, span

# The story's hour: lessons have been, one runs, more are to come.
MIDDAY = at(10, 40)
HOURS = range(7, 20)
MACHINES = 8


@dataclass
class FullDay:
    """Who works here, and the keys that each route's address is made of."""

    house: House
    people: dict[str, studio_models.Person]
    keys: dict[str, Any]
    apart: dict[str, dict[str, Any]] = field(default_factory=dict)

    def address(self, route: str, arguments: dict[str, Any]) -> str:
        """The address of a route with keys of real rows in place of `arguments`."""
        own = self.apart.get(route, {})
        return reverse(route, kwargs={name: own.get(name, self.keys[name]) for name in arguments})


def build(*, full: bool = True) -> FullDay:
    """Made by the product's own actions as on NOW; meant to be looked at on MIDDAY. Not `full`: two places only."""
    make_programming.load()
    house = make_scheduling.house(reformers=MACHINES)
    for number, name in enumerate(make_scheduling.names()[40:46]):
        house.teachers.append(make_scheduling.teacher(name, f"T{number}", house))
    people = {
        Role.INSTRUCTOR.value: house.teachers[0].person,
        Role.DESK.value: make.person(Role.DESK, name="Wilma Ostrander", email="wilma@studio.example"),
        Role.OWNER.value: make.person(Role.OWNER, name="Teodora Quist", email="teodora@studio.example"),
    }
    taught = _taught(house)
    if full:
        fill(house)
    return _with_keys(house, people, taught)


@contextmanager
def standing(blocker: DjangoDbBlocker, *, full: bool = True) -> Iterator[FullDay]:
    """A full day that stands as long as this lasts, for all tests of a module; then it was never there."""
    with blocker.unblock(), transaction.atomic():
        yield build(full=full)
        transaction.set_rollback(True)


@contextmanager
def undone() -> Iterator[None]:
    """What is written in here is gone afterwards."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def fill(house: House) -> None:
    """A private lesson at each hour on each machine, but where somebody stands already."""
    clients = [make_scheduling.client(name) for name in make_scheduling.names()[:24]]
    for number, hour in enumerate(HOURS):
        for machine in range(len(house.reformers)):
            if (hour, machine) not in ((8, 0), (10, 0)):
                who = clients[(number + machine * 3) % len(clients)]
                make_scheduling.book(house, who, span(hour, 15), machine=machine, teacher=machine)


def _taught(house: House) -> tuple[make_programming.Lesson, make_programming.Lesson]:
    """A lesson finished at eight, and one with the same limited client that runs now, its first line done."""
    finished = make_programming.lesson(house, told=BONES, hour=8)
    finished.assign()
    finished.teach(score=4)
    running = make_programming.lesson(house, make_programming.client("Ysolde Marrabin", BONES), hour=10)
    program = running.assign(now=NOW)
    first = program.lines.exclude(decision="left_out").order_by("position")[0]
    running.mark(first.pk, now=at(10, 20))
    return finished, running


def _with_keys(
    house: House,
    people: dict[str, studio_models.Person],
    taught: tuple[make_programming.Lesson, make_programming.Lesson],
) -> FullDay:
    finished, running = taught
    owner = people[Role.OWNER.value]
    invited = people_actions.invite(
        name="Berrin Aldakov", email="berrin@studio.example", roles=[Role.DESK], by=owner, now=MIDDAY
    )
    week = timedelta(days=7)
    closure = house_actions.close_days(
        house.studio.pk, first_day=DAY + week, last_day=DAY + week, why="Floor sanded", by=owner, now=NOW
    )
    later = Span(at(7) + 2 * week, at(8) + 2 * week)
    machine, teacher = house.reformers[7], house.teachers[7]
    out = scheduling_actions.take_out_of_service(machine.pk, span=later, why="New ropes", by=owner, now=NOW)
    off = scheduling_actions.add_time_off(teacher.pk, span=later, why="Course", by=owner, now=NOW)
    keys = {
        "client_id": running.client.pk,
        "place_id": running.place.pk,
        "line_id": programming_models.ProgramLine.objects.filter(program__place=running.place)
        .exclude(spring_set="")[0]
        .pk,
        "program_id": programming_models.Program.objects.get(place=running.place).pk,
        "record_id": client_models.ConditionRecord.objects.filter(client=running.client)[0].pk,
        "other_id": make_clients.client("Ysolde Marabin", different_from=(running.client.pk,), now=NOW).pk,
        "merge_id": merged(),
        "import_id": client_actions.look_at_list("list.csv", b"Name\nAda Quill\n", by=owner, now=NOW).pk,
        "reading_id": _reading(running, by=teacher.person),
        "restriction_id": _restriction(running, by=teacher.person),
        "waiver_id": _waiver(running),
        "review_id": client_models.Review.objects.filter(client=finished.client)[0].pk,
        "notice_id": studio_models.Notice.objects.all()[0].pk,
        "template_id": draft_of(teacher.person),
        "exercise_id": programming_models.Exercise.objects.order_by("pk")[0].pk,
        "step_code": programming_models.LadderStep.objects.order_by("position")[0].pk,
        "grant_id": _grant(finished),
        "decision_id": _decision(finished),
        "apparatus_kind": "reformer",
        "proposal_id": _proposal(teacher.person),
        "person_id": teacher.person.pk,
        "studio_id": house.studio.pk,
        "closure_id": closure.pk,
        "slug": "conditions",
        "table": "limits",
        "row_key": "C01~rotation",
        "point": "G01.systolic",
        "version_id": (version := stricter_rules(owner)).pk,
        "run_id": rule_runs.compare_on_everybody(version.pk, by=owner, now=MIDDAY).pk,
        "letter_id": (letter := unread_letter(running.client, people[Role.DESK.value])).pk,
        "file_id": letter.file_id,
        "request_id": waited_for(),
        "apparatus_id": machine.pk,
        "out_id": out.pk,
        **_springs(machine, owner),
        **_items(running, owner),
        **_group(house, teacher_person=people[Role.INSTRUCTOR.value]),
        "off_id": off.pk,
        "day": DAY.isoformat(),
        "screen_id": "H01",
        "kind": "invitation",
        "uidb64": "MQ",
        "token": form_token(running.client.pk),
        "version": 1,
        "link_id": client_models.FormLink.objects.filter(client=running.client)[0].pk,
    }
    apart: dict[str, dict[str, Any]] = {
        "studio:invite-again": {"person_id": invited.pk},
        "clients:form-signed": {"token": signed_token()},
    }
    return FullDay(house, people, keys, apart)


def _springs(machine: scheduling_models.Apparatus, owner: studio_models.Person) -> dict[str, int]:
    """A spring that was measured and looked at."""
    spring = machine.springs.order_by("position")[0]
    measured: dict[str, Any] = {"points": [(0.1, 52.5), (0.4, 157.5)], "instrument": "hung weights"}
    measured["measured_on"] = MIDDAY.date()
    kept = calibrations.calibrate_spring(spring.pk, **measured, by=owner, now=MIDDAY)
    look = spring_actions.inspect_spring(spring.pk, findings=(), by=owner, now=MIDDAY)
    return {"spring_id": spring.pk, "calibration_id": kept.id, "look_id": look.pk}


def _group(house: House, *, teacher_person: studio_models.Person) -> dict[str, Any]:
    """A duet of tomorrow with its group plan."""
    lesson_id = None
    for number, name in enumerate(("Belinde Okafore", "Casimir Dantrel")):
        who = make_programming.client(name)
        client_models.Client.objects.filter(pk=who.pk).update(visits=4)
        when = span(11, day=DAY + timedelta(days=1))
        place = make_scheduling.book(
            house, who, when, machine=number, kind=LessonKind.DUET, lesson_id=lesson_id, by=teacher_person
        )
        lesson_id = place.lesson_id
    template = programming_models.Template.objects.get(name="Foundation order", state="active")
    given: dict[str, Any] = {"template_id": template.pk, "without": range(6, 40), "by": teacher_person, "now": NOW}
    plan = group_actions.make_group_plan(place.lesson_id, **given)
    return {"lesson_id": place.lesson_id, "plan_id": plan.pk, "number": 1}


def _items(lesson: make_programming.Lesson, owner: studio_models.Person) -> dict[str, int]:
    """A box to share, held for the lesson that runs."""
    studio, place = lesson.place.apparatus.studio_id, lesson.place
    box = item_actions.add_item(studio_id=studio, kind=ItemKind.BOX, label="Box 1", by=owner, now=NOW)
    quarter = Span(place.during.lower, place.during.lower + timedelta(minutes=15))
    hold = item_actions.hold_item(place.pk, item_id=box.pk, span=quarter, by=owner, now=NOW)
    return {"item_id": box.pk, "hold_id": hold.pk}


def _proposal(by: studio_models.Person) -> UUID:
    """A change of an exercise that waits for the owner."""
    wanted = {"reps_low": "5", "reps_high": "8"}
    return proposals.propose_change(About.EXERCISE, "R-FRO", wanted=wanted, why="Enough", by=by, now=MIDDAY).pk


def _grant(lesson: make_programming.Lesson) -> UUID:
    granted = {"exercise_id": "R-FW1", "owned": True, "reason": "Years elsewhere"}
    return grants.grant_exercise(lesson.client.pk, **granted, by=lesson.teacher, now=MIDDAY).pk  # type: ignore[arg-type]


def _decision(lesson: make_programming.Lesson) -> UUID:
    step = {"exercise_id": "R-FW1", "decided": Step.REPEAT}
    return decisions.decide_step(lesson.client.pk, **step, by=lesson.teacher, now=MIDDAY).pk  # type: ignore[arg-type]


def draft_of(teacher: studio_models.Person) -> UUID:
    """A draft of the next version of a template, with a change in it."""
    made = approvals.next_version(make_programming.template().pk, by=teacher, now=MIDDAY)
    drafts.edit_draft(made.pk, edit=PutRow("R-ROW6"), revision=0, by=teacher, now=MIDDAY)
    return made.pk


def merged() -> UUID:
    """Two cards of one person that were made one."""
    one, other = (make_clients.client(name, now=NOW).pk for name in ("Perrin Oldacre", "Ottilie Vance"))
    return client_actions.merge_clients(one, other, choices={}, by=None, now=NOW).pk


def _reading(lesson: make_programming.Lesson, *, by: studio_models.Person) -> UUID:
    sitting = Sitting(pressures=(Pressure(122, 78),), heart_rate=64)
    taken = client_actions.record_readings(lesson.client.pk, sitting=sitting, by=by, now=NOW, why="at the door")
    return taken.reading_id


def _restriction(lesson: make_programming.Lesson, *, by: studio_models.Person) -> UUID:
    terms = client_actions.Terms(frozenset({"kneel"}))
    row = client_actions.restrict(lesson.client.pk, terms=terms, by=by, now=NOW, why="sore knees")
    assert row is not None
    return row.pk


def _waiver(lesson: make_programming.Lesson) -> UUID:
    """What short spine asks for first is waived for the client who is being taught."""
    return waivers.waive(lesson.client.pk, "R-SSP", reason="Seen on the tower", by=lesson.teacher, now=NOW).pk


def stricter_rules(owner: studio_models.Person) -> client_models.RuleSet:
    """A version of the rules that is not in force: turning is avoided with thin bones."""
    base = client_queries.rules_in_force().id
    values = {"level": "avoid", "how": "not offered"}
    row = {"table": "limits", "key": "C01~rotation"}
    return workbench.propose_row(base, **row, values=values, note="Stricter turning", by=owner, now=MIDDAY)


def unread_letter(client: client_models.Client, by: studio_models.Person) -> client_models.Letter:
    """A photographed page that nobody has read yet."""
    pages = [papers.photograph(300, 400)]
    return client_actions.hand_in(client.pk, pages=pages, routed_to=None, by=by, now=MIDDAY)


def waited_for() -> UUID:
    """The request of somebody for whom a letter comes first."""
    made = make_clients.client("Isaura Penhale", now=NOW)
    make_clients.signed_form(made, {"S6": ["yes"]}, signature=made.name, now=NOW)
    return client_models.LetterRequest.objects.get(client=made).pk


def form_token(client_id: UUID) -> str:
    return client_actions.make_form_link(client_id, by=None, now=MIDDAY).token


def signed_token() -> str:
    """The link of somebody who has just signed."""
    made = make_clients.client("Orsolin Teague", now=NOW)
    token = client_actions.make_form_link(made.pk, by=None, now=MIDDAY).token
    make_clients.answer(token, now=MIDDAY)
    client_actions.sign_form(token, name=made.name, signed_as="client", now=MIDDAY)
    return token


def places() -> int:
    return scheduling_models.Place.objects.count()
