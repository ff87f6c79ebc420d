"""Springs as teachers read them: a series put on another machine, and what springs asked of a client before."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from programming import models
from programming.queries import machines as machine_queries
from programming.queries import repertoire
from programming.rules import work
from programming.rules.lines import Line, PlannedLine
from programming.rules.marks import Mark
from programming.rules.springs import SpringSet
from programming.rules.translation import Translated, moved, translated
from programming.rules.travel import Sizes, sizes_from
from scheduling import models as scheduling_models
from scheduling import queries as scheduling_queries
from scheduling.queries import springs as spring_queries
from scheduling.rules.springs import SpringFact, alike, calibrated, force, hooked, told
from studio.rules import ApparatusKind, Reason, Refused

USUAL = work.Stroke.sure(work.StrokeOf.USUAL, work.USUAL_STROKE_M)
MOST_LINES = 80


# --- from machine to machine ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class MachineChoice:
    id: int
    name: str
    letters: str


@dataclass(frozen=True)
class TranslatedRow:
    """One line on the machine asked for, and on the one it comes from where one was named.

    `pulls` is the force at 40 cm in words; `there` the letters there, `apart` the units between them and what that
    does, `percent` the same by the springs' own numbers.
    """

    no: int
    exercise_id: str
    name: str
    reference: int | None
    letters: str
    deed: str
    says: str
    others: tuple[str, ...]
    is_forced: bool
    is_impossible: bool
    pulls: str
    there: str
    apart: str
    percent: str


@dataclass(frozen=True)
class Translation:
    """A series or template on one machine. `is_calibrated` tells whether its forces may go without that word."""

    machine: MachineChoice
    origin: MachineChoice | None
    rows: tuple[TranslatedRow, ...]
    is_calibrated: bool
    are_alike: bool

    @property
    def forced(self) -> bool:
        return any(row.is_forced for row in self.rows)

    @property
    def impossible(self) -> int:
        return sum(row.is_impossible for row in self.rows)

    @property
    def ties(self) -> int:
        return sum(bool(row.others) for row in self.rows)


def reformers(*, now: datetime) -> list[MachineChoice]:
    """Reformers by room, with the springs each carries. Four queries."""
    rooms = scheduling_queries.rooms(now=now)
    several = len({room.studio for room in rooms}) > 1
    return [
        MachineChoice(row.id, f"{row.label}, {room.studio}" if several else row.label, row.letters)
        for room in rooms
        for row in room.machines
        if row.kind is ApparatusKind.REFORMER
    ]


def subjects() -> list[tuple[str, str]]:
    """What may be put on another machine, as (key, words): series of the reformer, then templates in use."""
    series: dict[str, None] = {}
    for row in repertoire.exercises().values():
        if row.apparatus is ApparatusKind.REFORMER and row.springs_usual is not None:
            series.setdefault(row.series)
    templates = models.Template.objects.filter(state=models.Template.State.ACTIVE).order_by("name")
    found = templates.filter(apparatus_kind=ApparatusKind.REFORMER.value).values_list("pk", "name")
    return [*((f"series:{name}", name) for name in series), *((f"template:{key}", name) for key, name in found)]


def lines_of(subject: str) -> list[Line]:
    """The lines of a series (`series:NAME`) or template (`template:KEY`). Raises Refused when there is none."""
    kind, _, name = subject.partition(":")
    known = repertoire.exercises()
    if kind == "series":
        of_series = [row for row in known.values() if row.series == name and row.apparatus is ApparatusKind.REFORMER]
        found = [Line(PlannedLine(row.id, row.id), row) for row in of_series]
    else:
        found = _of_template(name)
    if not found:
        raise Refused(Reason("no_subject", "There is no such series or template.", "what", "one of the list"))
    return found


def lines_of_ids(exercise_ids: Sequence[str], counts: Sequence[int | None] = ()) -> list[Line]:
    """Lines by the reference ids of their exercises, with reference counts of springs where they differ from usual.

    Raises Refused `unknown_exercise` naming the first that is not in the repertoire.
    """
    known = repertoire.exercises()
    for key in exercise_ids:
        if key not in known:
            says = f"There is no exercise {key} in the repertoire."
            raise Refused(Reason("unknown_exercise", says, "exercises", "ids of the repertoire"))
    wanted = [*counts, *[None] * (len(exercise_ids) - len(counts))]
    return [
        Line(PlannedLine(str(at), key, springs=count), known[key])
        for at, (key, count) in enumerate(zip(exercise_ids, wanted, strict=True), 1)
    ]


def _of_template(key: str) -> list[Line]:
    try:
        template_id = UUID(key)
    except ValueError:
        return []
    rows = models.TemplateLine.objects.filter(template=template_id, template__state=models.Template.State.ACTIVE)
    kept = list(rows.order_by("position"))
    known = repertoire.known_exercises({row.exercise_id for row in kept})
    return [
        Line(
            PlannedLine(str(row.position), row.exercise_id, row.reps, row.springs, row.adapted), known[row.exercise_id]
        )
        for row in kept
    ]


def inventory_of(apparatus_id: int) -> SpringSet:
    """The springs of a machine, none included. Raises DoesNotExist."""
    return SpringSet.of(machine_queries.machine(apparatus_id).letters)


def translation(lines: Sequence[Line], machine: MachineChoice, origin: MachineChoice | None = None) -> Translation:
    """Lines on a machine and, side by side, on the one they come from. Raises Refused for a machine without springs."""
    facts = spring_queries.springs_at(machine.id)
    there_facts = spring_queries.springs_at(origin.id) if origin else {}
    here = translated(lines, SpringSet.of(machine.letters))
    there = translated(lines, SpringSet.of(origin.letters)) if origin else (None,) * len(here)
    rows = [
        _row(no, one, other, facts, there_facts) for no, (one, other) in enumerate(zip(here, there, strict=True), 1)
    ]
    all_facts = [*facts.values(), *there_facts.values()]
    same = bool(origin) and alike(list(facts.values()), list(there_facts.values()))
    return Translation(machine, origin, tuple(rows), calibrated(all_facts), same)


def _row(
    no: int,
    one: Translated,
    other: Translated | None,
    facts: Mapping[int, SpringFact],
    there_facts: Mapping[int, SpringFact],
) -> TranslatedRow:
    row, letters = one.line.row, one.hooked.letters if one.hooked else ""
    there = other.hooked.letters if other and other.hooked else ""
    springs = list(hooked(facts, letters).values())
    before = list(hooked(there_facts, there).values())
    both = bool(springs and before)
    return TranslatedRow(
        no=no,
        exercise_id=row.id,
        name=row.name,
        reference=one.line.springs if one.hooked is not None else None,
        letters=letters,
        deed=one.deed,
        says=one.says,
        others=tuple(springs.letters for springs in one.others),
        is_forced=one.is_forced,
        is_impossible=one.is_impossible,
        pulls=told(force(springs, USUAL.metres), "N") if springs else "",
        there=there,
        apart=moved(other, one) if other else "",
        percent=work.compared(springs, before, USUAL, row.spring_effect).words if both else "",
    )


# --- what springs asked of a client before ----------------------------------------------------------------------------


@dataclass(frozen=True)
class LastTime:
    """The last finished lesson in which a client did an exercise with springs, and the springs that hung there."""

    on: date
    apparatus_id: int
    machine: str
    kind: ApparatusKind
    letters: str
    springs: tuple[SpringFact, ...]


def last_times(client_id: UUID, exercise_ids: Collection[str], *, before: datetime | None) -> dict[str, LastTime]:
    """By exercise, from lessons that began before an instant (None: any). Two queries, whatever the number."""
    rows = list(_practised(client_id, exercise_ids, before))
    hung = _hung_at({row.log.place.apparatus_id for row in rows})
    return {row.program_line.exercise_id or "": _last(row, hung) for row in rows}


def _practised(client_id: UUID, exercise_ids: Collection[str], before: datetime | None) -> QuerySet[models.LogLine]:
    rows = models.LogLine.objects.filter(
        log__program__client_id=client_id,
        log__finished_at__isnull=False,
        program_line__exercise_id__in=set(exercise_ids),
    )
    rows = rows.exclude(mark=Mark.SKIPPED.value).exclude(spring_set="")
    if before is not None:
        rows = rows.filter(log__place__during__startswith__lt=before)
    rows = rows.select_related("program_line", "log__place__apparatus", "log__place__lesson__studio")
    newest = ("program_line__exercise_id", "-log__place__during", "-program_line__position")
    return rows.order_by(*newest).distinct("program_line__exercise_id")


def _hung_at(apparatus_ids: Collection[int]) -> list[scheduling_models.Spring]:
    rows = scheduling_models.Spring.objects.filter(apparatus__in=apparatus_ids)
    return list(rows.order_by("position", "fitted_on", "pk"))


def _last(row: models.LogLine, hung: Sequence[scheduling_models.Spring]) -> LastTime:
    place = row.log.place
    on = place.during.lower.astimezone(ZoneInfo(place.lesson.studio.time_zone)).date()
    then = {
        spring.pk: spring_queries.fact_of(spring)
        for spring in hung
        if spring.apparatus_id == place.apparatus_id
        and spring.fitted_on <= on
        and (spring.removed_on is None or on < spring.removed_on)
    }
    return LastTime(
        on=on,
        apparatus_id=place.apparatus_id,
        machine=place.apparatus.label,
        kind=ApparatusKind(place.apparatus.kind),
        letters=row.spring_set,
        springs=tuple(hooked(then, row.spring_set).values()),
    )


def sizes() -> Sizes:
    """Ratios and lines of bodies, from the loaded reference; one query."""
    tables = models.RepertoireTable.objects.filter(name__in=["segment_ratios", "leg_length_regression"])
    rows = dict(tables.values_list("name", "rows"))
    return sizes_from(rows["segment_ratios"], rows["leg_length_regression"])
