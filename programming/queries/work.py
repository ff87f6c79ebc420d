"""What the springs of a program ask of its client, line by line, in words: force, travel, work, and last time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from uuid import UUID

from programming import models
from programming.queries import springs as spring_reads
from programming.queries.programs import rows_of
from programming.queries.springs import LastTime
from programming.rules import travel as travels
from programming.rules import work
from programming.rules.lines import reps_words
from programming.rules.repertoire import ExerciseRow
from programming.rules.travel import Bench, Legs
from programming.rules.work import Compared, StrokeOf, Work
from scheduling.queries import springs as spring_queries
from scheduling.rules.springs import SpringFact, hooked, told
from studio.rules import ApparatusKind, Reason, Refused


@dataclass(frozen=True)
class LineWork:
    """One line with springs. `problem` says in words why nothing can be reckoned; then `work` is None."""

    id: UUID
    no: int
    name: str
    letters: str
    reps: str
    work: Work | None
    problem: str = ""
    last: LastTime | None = None
    beside: Compared | None = None
    at_spring: bool = False

    @property
    def reps_words(self) -> str:
        """`9 repetitions`, `3 each side`."""
        return self.reps if " " in self.reps else f"{self.reps} repetitions"

    @property
    def at_rest(self) -> str:
        return told(self.work.at_rest, "N") if self.work else ""

    @property
    def at_end(self) -> str:
        if self.work is None or self.work.stroke.of is StrokeOf.STILL:
            return ""
        return told(self.work.at_end, "N")

    @property
    def a_repetition(self) -> str:
        return _joules(self.work.a_repetition if self.work else None)

    @property
    def a_set(self) -> str:
        return _joules(self.work.a_set if self.work else None)

    @property
    def span(self) -> str:
        """Least and most of a repetition where the leg is estimated: `21.3 to 35.0 J`."""
        found = self.work.span if self.work else None
        return f"{told(found[0], '')} to {told(found[1], 'J')}" if found else ""

    @property
    def stroke(self) -> str:
        if self.work is None:
            return ""
        stroke = self.work.stroke
        size = f"{100 * stroke.metres:.0f} cm"
        if stroke.least != stroke.most:
            size += f" ({100 * stroke.least:.0f} to {100 * stroke.most:.0f})"
        return {
            StrokeOf.LEGS: f"{size}, by the length of the legs",
            StrokeOf.HELD: f"held out at {size}",
            StrokeOf.SEEN: f"{size}, as you saw it",
            StrokeOf.USUAL: f"{size}, the usual stroke of the table",
            StrokeOf.STILL: "none, the springs hold still",
        }[stroke.of]

    @property
    def is_estimate(self) -> bool:
        return self.work is not None and self.work.stroke.of in (StrokeOf.LEGS, StrokeOf.HELD)

    @property
    def is_usual(self) -> bool:
        return self.work is not None and self.work.stroke.of is StrokeOf.USUAL

    @property
    def is_calibrated(self) -> bool:
        return self.work is None or self.work.is_calibrated

    @property
    def overstretched(self) -> str:
        """Classes of the springs that full travel stretches by their whole length, empty when none."""
        return ", ".join(dict.fromkeys(spring.stiffness for spring in self.work.overstretched)) if self.work else ""


@dataclass(frozen=True)
class Start:
    """How lying footwork begins for this body here: the bend of the knees, and what another bend would need."""

    bend: int
    metres: float
    is_stopped: bool
    wanted: int | None = None
    stop: str = ""


@dataclass(frozen=True)
class WorkSheet:
    """A program's springs for its client. `legs` is None when neither height nor leg was noted."""

    program_id: UUID
    client_id: UUID
    client_name: str
    place_id: UUID | None
    template: str
    machine: str
    lines: tuple[LineWork, ...]
    legs: Legs | None
    leg_on: date | None
    bench: Bench
    start: Start | None
    start_problem: str

    @property
    def leg(self) -> str:
        return f"{100 * self.legs.leg:.0f} cm" if self.legs else ""

    @property
    def error(self) -> str:
        return f"{100 * self.legs.error:.0f} cm" if self.legs and self.legs.error else ""

    @property
    def rests_on(self) -> str:
        return self.legs.rests_on.words if self.legs else ""

    @property
    def is_calibrated(self) -> bool:
        return all(line.is_calibrated for line in self.lines)

    @property
    def outward(self) -> str:
        """Joules outward of all sets that could be reckoned."""
        return _joules(sum(line.work.a_set or 0.0 for line in self.lines if line.work))

    @property
    def has_footwork(self) -> bool:
        return self.start is not None or bool(self.start_problem)


@dataclass(frozen=True)
class Wanted:
    """What a teacher asks of the sheet: a stroke in metres that she saw, a bend of the knees in degrees to start at."""

    line_id: UUID | None = None
    seen: float | None = None
    bend: int | None = None


def program_row(program_id: UUID) -> models.Program:
    """A program with its client, machine and lines. Raises Program.DoesNotExist."""
    rows = models.Program.objects.select_related("client", "template", "apparatus", "place")
    return rows.prefetch_related("lines").get(pk=program_id)


def sheet(row: models.Program, legs: Legs | None, wanted: Wanted, *, leg_on: date | None = None) -> WorkSheet:
    """The lines with springs of a program, or the one asked for; a fixed number of queries.

    Raises Refused `no_line` for a line that is not there or hooks no springs.
    """
    stored = [line for line in sorted(row.lines.all(), key=lambda line: line.position) if line.spring_set]
    stored = [line for line in stored if line.exercise_id and wanted.line_id in (None, line.pk)]
    if wanted.line_id and not stored:
        raise Refused(Reason("no_line", "That line hooks no springs.", "line", "a line of this program with springs"))
    rows = {position: found.taught for position, found in rows_of(stored).items()}
    measures = spring_queries.measures_of(row.apparatus_id)
    bench = travels.bench_of(measures.bar_to_rest, measures.foot_above_hip, measures.track)
    here = _Here(row.apparatus.label, ApparatusKind(row.apparatus.kind), legs, bench, measures.pedal_ratio, wanted.seen)
    start, problem = _start(list(rows.values()), legs, bench, wanted.bend)
    return WorkSheet(
        program_id=row.pk,
        client_id=row.client_id,
        client_name=row.client.name,
        place_id=row.place_id,
        template=row.template.name,
        machine=here.machine,
        lines=_lines(row, stored, rows, here),
        legs=legs,
        leg_on=leg_on,
        bench=bench,
        start=start,
        start_problem=problem,
    )


@dataclass(frozen=True)
class _Here:
    machine: str
    kind: ApparatusKind
    legs: Legs | None
    bench: Bench
    pedal_ratio: float | None
    seen: float | None


def _lines(
    row: models.Program, stored: Sequence[models.ProgramLine], rows: Mapping[int, ExerciseRow], here: _Here
) -> tuple[LineWork, ...]:
    hung = spring_queries.springs_at(row.apparatus_id)
    begins = row.place.during.lower if row.place else None
    last = spring_reads.last_times(row.client_id, {one.id for one in rows.values()}, before=begins)
    return tuple(_line(line, rows[line.position], hung, last.get(rows[line.position].id), here) for line in stored)


def _line(
    line: models.ProgramLine, row: ExerciseRow, hung: Mapping[int, SpringFact], last: LastTime | None, here: _Here
) -> LineWork:
    bare = LineWork(line.pk, line.position, row.name, line.spring_set, reps_words(row, line.reps), None)
    springs = tuple(hooked(hung, line.spring_set).values())
    if row.apparatus is not here.kind:
        says = f"On the {row.apparatus.value}: its springs are not on the record of {here.machine}."
        return replace(bare, problem=says)
    if len(springs) < len(line.spring_set):
        says = f"{here.machine} does not carry these springs any more: fit the program again."
        return replace(bare, problem=says)
    try:
        stroke = work.stroke_for(row, here.legs, here.bench, here.seen)
    except Refused as refused:
        return replace(bare, problem=refused.reasons[0].says)
    on_chair = row.apparatus is ApparatusKind.CHAIR
    return replace(
        bare,
        work=Work(springs, stroke, line.reps * row.side_factor, (here.pedal_ratio or 1.0) if on_chair else 1.0),
        last=last,
        beside=_beside(springs, last, stroke, row, here),
        at_spring=on_chair and not here.pedal_ratio,
    )


def _beside(
    springs: Sequence[SpringFact], last: LastTime | None, stroke: work.Stroke, row: ExerciseRow, here: _Here
) -> Compared | None:
    if last is None or last.kind is not here.kind or len(last.springs) < len(last.letters):
        return None
    return work.compared(springs, last.springs, stroke, row.spring_effect)


def _start(
    rows: Sequence[ExerciseRow], legs: Legs | None, bench: Bench, wanted: int | None
) -> tuple[Start | None, str]:
    if legs is None or not any(travels.is_lying_footwork(row) for row in rows):
        return None, ""
    stop = ""
    try:
        if wanted is not None:
            bar = travels.bar_to_rest_for(legs, wanted, foot_above_hip=bench.foot_above_hip)
            stop = _stop_words(bar - bench.bar_to_rest)
        found = travels.travel(legs, bench)
    except Refused as refused:
        return None, " ".join(filter(None, [refused.reasons[0].says, stop and f"For {wanted} degrees: {stop}."]))
    return Start(round(found.bend), found.metres, found.is_stopped, wanted, stop), ""


def _stop_words(further: float) -> str:
    """How far to move the carriage's home: away from the bar (+) or nearer to it."""
    size = f"{abs(100 * further):.0f} cm"
    if size == "0 cm":
        return "the stop stays where it is"
    return f"the carriage stop {size} {'further from' if further > 0 else 'nearer to'} the bar"


def _joules(value: float | None) -> str:
    return "" if value is None else told(value, "J")
