"""A house that practises: reference and templates loaded, a client with limits, a lesson to be taught."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from clients import models as client_models
from programming import actions, models
from programming.actions import fits
from programming.queries import files, programs
from programming.queries.programs import Fit, ProgramView
from programming.rules.marks import Mark
from programming.rules.timing import Pace
from scheduling import models as scheduling_models
from studio import models as studio_models
from studio.rules import ApparatusKind
from tests import make_clients, make_scheduling, reference
from tests.make_scheduling import DAY, NOW, House, at, span

__all__ = ["DAY", "NOW", "at", "span"]

# Low bone density, no fracture: the worked example of the rules; blocks, adapts and watches something each.
BONES = {"H09": ["yes"], "H09.conditions": ["C01"]}
# A sore wrist as well: of a whole reformer order some lines have nothing left to stand in for them.
MANY = BONES | {"H08": ["yes"], "H08.conditions": ["C38"]}
LESSON = at(10, 15)


def load() -> None:
    """The shipped reference and templates."""
    actions.load_reference(reference.tables(), now=NOW - timedelta(days=60))
    actions.load_templates(files.shipped_templates(), now=NOW - timedelta(days=60))


def template(name: str = "Foundation order") -> models.Template:
    return models.Template.objects.get(name=name, state="active")


def client(
    name: str = "Ruvena Tarnelow", told: dict[str, list[str]] | None = None, *, now: datetime = NOW
) -> client_models.Client:
    """A client with a signed and screened form; without `told` nothing is limited."""
    made = make_clients.client(name, now=now)
    make_clients.signed_form(made, told or {}, signature=name, now=now)
    return made


def fit(program: models.Program) -> Fit:
    """What fitting did to a program, opened."""
    return fits.opened(models.Program.objects.select_related("client").get(pk=program.pk))


def view(program: models.Program) -> ProgramView:
    """A program as its page reads it."""
    row = programs.loaded(program.pk)
    return programs.view(row, fits.opened(row))


def make_template(name: str, *exercise_ids: str, minutes: int = 55) -> models.Template:
    lines = [actions.NewLine(key) for key in exercise_ids]
    return actions.make_template(
        name=name, aim="", kind=ApparatusKind.REFORMER, level=5, minutes=minutes, lines=lines, by=None, now=NOW
    )


def reformer_rows(count: int = 64) -> models.Template:
    """The first rows of the reformer in one template."""
    keys = models.Exercise.objects.filter(apparatus_kind="reformer").order_by("order_in_apparatus")
    ids = list(keys.values_list("pk", flat=True))[:count]
    return make_template(f"{count} rows", *ids, minutes=240)


@dataclass
class Lesson:
    """A booked place with its teacher's person and its client."""

    house: House
    teacher: studio_models.Person
    client: client_models.Client
    place: scheduling_models.Place

    def assign(self, name: str = "Foundation order", *, now: datetime = NOW, **other: object) -> models.Program:
        given: dict[str, Any] = {
            "client_id": self.client.pk,
            "template_id": template(name).pk,
            "place_id": self.place.pk,
            "apparatus_id": self.place.apparatus_id,
            "minutes": 55,
            "pace": Pace.WORKING,
            "by": self.teacher,
        } | other
        return actions.assign_program(**given, now=now)

    def teach(self, *, score: int | None = None, now: datetime | None = None) -> models.Log:
        """Every line done, and the lesson finished."""
        when = now or self.place.during.lower + timedelta(minutes=30)
        program = models.Program.objects.get(place=self.place, replaced_at=None)
        for line in program.lines.exclude(decision="left_out").order_by("position"):
            self.mark(line.pk, now=when, score=score)
        return actions.finish_log(models.Log.objects.get(place=self.place).pk, by=self.teacher, now=when)

    def mark(
        self, line_id: UUID, mark: Mark = Mark.DONE, *, now: datetime = LESSON, score: int | None = None
    ) -> models.LogLine:
        return actions.mark_place_line(self.place.pk, line_id=line_id, mark=mark, by=self.teacher, now=now, score=score)


def lesson(
    found: House | None = None,
    who: client_models.Client | None = None,
    *,
    told: dict[str, list[str]] | None = None,
    day: date = DAY,
    hour: int = 10,
    minute: int = 15,
    machine: int = 0,
    teacher: int = 0,
) -> Lesson:
    """A private lesson of 55 minutes, booked; the reference must be loaded."""
    found = found or make_scheduling.house()
    who = who or client(told=told)
    when = span(hour, minute, day=day)
    place = make_scheduling.book(found, who, when, machine=machine, teacher=teacher)
    return Lesson(found, found.teachers[teacher].person, who, place)
