"""A group plan as people read it: what is shared, who does what else beside it, and the rounds in their order."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Count

from programming import models
from programming.queries import repertoire
from programming.queries.fits import Fit, LineFit
from programming.queries.programs import clock
from programming.rules.lines import reps_words
from programming.rules.marks import Decision
from programming.rules.repertoire import ExerciseRow
from programming.rules.timing import Pace
from scheduling import models as scheduling_models
from scheduling.queries.house import range_of
from scheduling.queries.items import HoldRow, holds_of
from scheduling.rules.places import HOLDING
from studio.rules import zones


@dataclass(frozen=True)
class Member:
    """One person of the lesson; `is_changed` when her program is not the plan's any more."""

    place_id: UUID
    program_id: UUID
    name: str
    machine: str
    is_changed: bool


@dataclass(frozen=True)
class Cell:
    """What one person does at a shared line. `differs` from what most do, and so it is said on its own."""

    decision: Decision
    name: str
    form: str
    setup: tuple[str, ...]
    springs: str
    reps: str
    note: str
    differs: bool

    @property
    def is_out(self) -> bool:
        return self.decision is Decision.LEFT_OUT


@dataclass(frozen=True)
class SharedLine:
    """One line of the plan with a cell for each person, in their order."""

    no: int
    name: str
    begins: str
    lasts: str
    supervision: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Doing:
    """What one person has in hand in a round: a line begun, or nothing when she waits or has finished."""

    member: Member
    line: SharedLine | None
    cell: Cell | None


@dataclass(frozen=True)
class RoundRow:
    """One round, from 1; `said` counts the different things to say, `eyes` the supervision figures of what is done."""

    no: int
    begins: str
    lasts: str
    doing: tuple[Doing, ...]
    said: int
    eyes: int

    @property
    def is_together(self) -> bool:
        """Everybody begins the same line."""
        return len({one.line.no if one.line else 0 for one in self.doing}) == 1


@dataclass(frozen=True)
class GroupView:
    """A whole plan. `minutes` is what it takes, `slot` what the lesson has; `stale` says in words what has changed."""

    id: UUID
    lesson_id: UUID
    starts: datetime
    template: str
    template_id: UUID
    pace: Pace
    one_voice: bool
    instructions: int
    made_at: datetime
    made_by: str
    minutes: float
    slot: int
    members: tuple[Member, ...]
    lines: tuple[SharedLine, ...]
    rounds: tuple[RoundRow, ...]
    holds: tuple[HoldRow, ...]
    stale: tuple[str, ...]
    log_begun: bool

    @property
    def left_out(self) -> int:
        return sum(cell.is_out for line in self.lines for cell in line.cells)


@dataclass(frozen=True)
class GroupLesson:
    """A lesson before it has a plan: who holds a place in it. `plan_id` is the plan that stands."""

    lesson_id: UUID
    starts: datetime
    ends: datetime
    kind: str
    minutes: int
    people: tuple[tuple[UUID, str, str], ...]
    plan_id: UUID | None


@dataclass(frozen=True)
class GroupTemplate:
    """A template in use."""

    id: UUID
    name: str
    aim: str
    kind: str
    level: int
    minutes: int
    lines: int


@dataclass(frozen=True)
class LineChoice:
    """A line of a template that may be left out for everybody."""

    position: int
    name: str


def group_lesson(lesson_id: UUID) -> GroupLesson:
    """Two queries beside the plan's key; raises Lesson.DoesNotExist."""
    lesson = scheduling_models.Lesson.objects.select_related("studio").get(pk=lesson_id)
    zone, span = ZoneInfo(lesson.studio.time_zone), range_of(lesson.during)
    places = lesson.places.filter(live=True, state__in=HOLDING).select_related("client", "apparatus")
    people = sorted((place.client.name, place.pk, place.apparatus.label) for place in places)
    return GroupLesson(
        lesson_id=lesson.pk,
        starts=zones.reading(span.start, zone),
        ends=zones.reading(span.end, zone),
        kind=lesson.get_kind_display().replace("_", " "),
        minutes=int(span.minutes),
        people=tuple((key, name, machine) for name, key, machine in people),
        plan_id=standing(lesson_id),
    )


def standing(lesson_id: UUID) -> UUID | None:
    """The key of the plan that a lesson is taught by now."""
    rows = models.GroupPlan.objects.filter(lesson=lesson_id, replaced_at=None)
    return rows.values_list("pk", flat=True).first()


def lesson_of_plan(plan_id: UUID) -> UUID:
    """Raises GroupPlan.DoesNotExist."""
    return models.GroupPlan.objects.values_list("lesson_id", flat=True).get(pk=plan_id)


def clients_of_lesson(lesson_id: UUID) -> list[UUID]:
    """The keys of those who hold a place; one query."""
    rows = scheduling_models.Place.objects.filter(lesson=lesson_id, live=True, state__in=HOLDING)
    return list(rows.values_list("client_id", flat=True))


def clients_of_plan(plan_id: UUID) -> list[UUID]:
    """The keys of those the plan was made for; one query."""
    rows = models.Program.objects.filter(group_plan=plan_id).order_by("client_id")
    return list(rows.values_list("client_id", flat=True).distinct())


def template_choices() -> list[GroupTemplate]:
    """Templates in use by level and name; one query."""
    rows = models.Template.objects.filter(state=models.Template.State.ACTIVE).annotate(count=Count("lines"))
    fields = ("pk", "name", "aim", "apparatus_kind", "level", "minutes", "count")
    return [GroupTemplate(*row) for row in rows.order_by("level", "name").values_list(*fields)]


def lines_of(template_id: UUID) -> list[LineChoice]:
    rows = models.TemplateLine.objects.filter(template=template_id).select_related("exercise").order_by("position")
    return [LineChoice(row.position, str(row.exercise)) for row in rows]


def programs_of(plan: models.GroupPlan) -> list[models.Program]:
    """The programs that the plan made, with all that its view needs, in the order of the people's names."""
    rows = models.Program.objects.filter(group_plan=plan).select_related("client", "place", "apparatus")
    rows = rows.prefetch_related("lines").filter(made_at=plan.made_at)
    return sorted(rows, key=lambda row: (row.client.name, str(row.place_id)))


def loaded(plan_id: UUID) -> models.GroupPlan:
    rows = models.GroupPlan.objects.select_related("lesson__studio", "template", "made_by").prefetch_related("lines")
    return rows.get(pk=plan_id)


def view(plan: models.GroupPlan, programs: Sequence[models.Program], fits: Mapping[UUID, Fit]) -> GroupView:
    """A loaded plan with its programs and their opened fits; a fixed number of queries whatever its length."""
    rows = _rows_of(programs)
    members = tuple(_member(program) for program in programs)
    lines = _lines(plan, programs, fits, rows)
    rounds = _rounds(plan, members, lines, rows)
    times = repertoire.times()
    zone = ZoneInfo(plan.lesson.studio.time_zone)
    last = plan.rounds[-1] if plan.rounds else {"starts": times.arrival, "seconds": 0}
    return GroupView(
        id=plan.pk,
        lesson_id=plan.lesson_id,
        starts=zones.reading(range_of(plan.lesson.during).start, zone),
        template=plan.template.name,
        template_id=plan.template_id,
        pace=Pace(plan.pace),
        one_voice=plan.one_voice,
        instructions=plan.instructions,
        made_at=plan.made_at,
        made_by=plan.made_by.name if plan.made_by else "",
        minutes=(last["starts"] + last["seconds"] + times.close) / 60,
        slot=plan.minutes,
        members=members,
        lines=lines,
        rounds=rounds,
        holds=tuple(holds_of([member.place_id for member in members])),
        stale=tuple(_stale(plan, members)),
        log_begun=models.Log.objects.filter(place__lesson=plan.lesson_id).exists(),
    )


def _rows_of(programs: Sequence[models.Program]) -> dict[tuple[str, int], ExerciseRow]:
    """Every exercise of the lines as it read when it was planned; one query."""
    stored = [line for program in programs for line in program.lines.all()]
    keys = {(line.planned_id, line.planned_version) for line in stored}
    keys |= {(line.exercise_id, line.exercise_version) for line in stored if line.exercise_id is not None}
    return repertoire.versions_of(keys)


def _member(program: models.Program) -> Member:
    assert program.place_id is not None
    changed = program.replaced_at is not None or program.revision > 0
    return Member(program.place_id, program.pk, program.client.name, program.apparatus.label, changed)


def _lines(
    plan: models.GroupPlan,
    programs: Sequence[models.Program],
    fits: Mapping[UUID, Fit],
    rows: Mapping[tuple[str, int], ExerciseRow],
) -> tuple[SharedLine, ...]:
    by_position = [{line.position: line for line in program.lines.all()} for program in programs]
    found = []
    for shared in sorted(plan.lines.all(), key=lambda line: line.position):
        told = [
            (lines[shared.position], fits[program.pk].of(shared.position))
            for lines, program in zip(by_position, programs, strict=True)
        ]
        common = _common(told)
        planned = rows[told[0][0].planned_id, told[0][0].planned_version]
        found.append(
            SharedLine(
                no=shared.position,
                name=planned.name,
                begins=clock(shared.starts),
                lasts=clock(shared.seconds),
                supervision=planned.supervision,
                cells=tuple(_cell(line, fit, rows, common) for line, fit in told),
            )
        )
    return tuple(found)


def _common(told: Sequence[tuple[models.ProgramLine, LineFit]]) -> tuple[str, str]:
    """What is said to all: the plan where anybody keeps it, else what most do."""
    said = [(line.exercise_id or "", fit.form) for line, fit in told]
    kept = [one for one, (line, _) in zip(said, told, strict=True) if Decision(line.decision) is Decision.AS_PLANNED]
    return kept[0] if kept else Counter(said).most_common(1)[0][0]


def _cell(
    line: models.ProgramLine, fit: LineFit, rows: Mapping[tuple[str, int], ExerciseRow], common: tuple[str, str]
) -> Cell:
    row = rows[line.exercise_id, line.exercise_version] if line.exercise_id else None
    return Cell(
        decision=Decision(line.decision),
        name=row.name if row else "",
        form=fit.form,
        setup=fit.setup,
        springs=line.spring_set,
        reps=reps_words(row, line.reps) if row else "",
        note="; ".join(fit.notes),
        differs=(line.exercise_id or "", fit.form) != common,
    )


def _rounds(
    plan: models.GroupPlan,
    members: Sequence[Member],
    lines: Sequence[SharedLine],
    rows: Mapping[tuple[str, int], ExerciseRow],
) -> tuple[RoundRow, ...]:
    by_no = {line.no: line for line in lines}
    figures = {row.name: row.supervision for row in rows.values()}
    found = []
    for no, at in enumerate(plan.rounds, 1):
        doing = tuple(_doing(member, who, at["begun"], by_no) for who, member in enumerate(members))
        said = {(one.line.no, one.cell.name, one.cell.form) for one in doing if one.line and one.cell}
        eyes = sum(figures.get(one.cell.name, 1) if one.cell else 1 for one in doing)
        found.append(RoundRow(no, clock(at["starts"]), clock(at["seconds"]), doing, len(said), eyes))
    return tuple(found)


def _doing(member: Member, who: int, begun: Mapping[str, int], by_no: Mapping[int, SharedLine]) -> Doing:
    no = begun.get(str(member.place_id))
    line = by_no[no] if no else None
    return Doing(member, line, line.cells[who] if line else None)


def _stale(plan: models.GroupPlan, members: Sequence[Member]) -> list[str]:
    places = plan.lesson.places.filter(live=True, state__in=HOLDING)
    here = dict(places.values_list("pk", "client__name"))
    planned = {member.place_id: member.name for member in members}
    said = [f"{name} has come to the lesson since." for key, name in here.items() if key not in planned]
    said += [f"{name} has left the lesson since." for key, name in planned.items() if key not in here]
    said += [f"The program of {member.name} was changed since." for member in members if member.is_changed]
    if plan.minutes != int(range_of(plan.lesson.during).minutes):
        said.append(f"It was made for {plan.minutes} minutes; the lesson has another length now.")
    return said
