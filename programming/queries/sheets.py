"""The run sheet of a place: the lines in order, what to set before each, and what has been marked."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from programming import models
from programming.queries import progress, repertoire
from programming.queries.programs import ProgramLine, ProgramView, RailView
from programming.queries.repertoire import Ladder
from programming.rules.marks import Mark
from programming.rules.sheet import Setting, settings
from programming.rules.springs import SpringSet
from scheduling import queries as scheduling_queries
from scheduling.queries import PlaceFacts
from studio.rules import ApparatusKind

UNDO_STANDS = timedelta(seconds=8)
# What a tablet across the machine shows in one line at glance size.
GLANCE_DEED, GLANCE_TITLE = 20, 18


@dataclass(frozen=True)
class Marked:
    """What the log says of a line."""

    mark: Mark
    reps: int | None
    score: int | None
    has_note: bool
    at: datetime
    is_felt: bool = False


@dataclass(frozen=True)
class SheetLine:
    """One line at the machine. `no` counts the lines that are taught; 0 for one that was left out."""

    line: ProgramLine
    no: int
    setting: Setting
    ladder: Ladder
    marked: Marked | None
    part_of: str
    decided: str = ""

    @property
    def title(self) -> str:
        """What is called out: the part where an exercise has several, else its name."""
        short = self.line.part.partition("(")[0].strip() if self.part_of else ""
        return (short or self.line.exercise).capitalize() if short else self.line.exercise

    @property
    def told(self) -> str:
        """Repetitions in words, with what the part adds to its name: `9 repetitions, feet wrapped over the bar`."""
        reps = self.line.reps if " " in self.line.reps else f"{self.line.reps} repetitions"
        return ", ".join(filter(None, [reps, self.line.part.partition("(")[2].rstrip(")").strip()]))

    @property
    def verb(self) -> str:
        return self.setting.words.partition(" ")[0] if self.has_deed else self.setting.words

    @property
    def deed(self) -> str:
        """What the hands do, without the verb; empty when nothing is done."""
        return self.setting.words.partition(" ")[2] if self.has_deed else ""

    @property
    def is_long(self) -> bool:
        """Too many words for glance size: they are set a size smaller, still read from the end of the machine."""
        return len(self.setting.words) > GLANCE_DEED

    @property
    def has_long_title(self) -> bool:
        return len(self.title) > GLANCE_TITLE

    @property
    def has_deed(self) -> bool:
        return self.setting.words.startswith(("Hook", "Unhook"))


@dataclass(frozen=True)
class RunSheet:
    """A lesson at the machine. `at` is the index of the line shown, None when every line has its mark."""

    place: PlaceFacts
    program_id: UUID | None
    template: str
    log_id: UUID | None
    started_at: datetime | None
    finished_at: datetime | None
    has_note: bool
    lines: tuple[SheetLine, ...]
    at: int | None
    last: SheetLine | None
    can_undo: bool
    rail: RailView | None

    @property
    def current(self) -> SheetLine | None:
        return self.lines[self.at] if self.at is not None else None

    @property
    def next(self) -> SheetLine | None:
        if self.at is None:
            return None
        return next((line for line in self.taught if line.no > self.lines[self.at].no and not line.marked), None)

    @property
    def taught(self) -> tuple[SheetLine, ...]:
        return tuple(line for line in self.lines if line.no)

    @property
    def unmarked(self) -> int:
        return sum(line.marked is None for line in self.taught)

    @property
    def minutes_left(self) -> int:
        """Minutes of the lines still to come, by the time model."""
        return round(sum(line.line.seconds for line in self.taught if not line.marked) / 60)

    @property
    def tally(self) -> tuple[tuple[str, int], ...]:
        return tuple(
            (mark.value, sum(line.marked is not None and line.marked.mark is mark for line in self.taught))
            for mark in Mark
        )


def log_row(place_id: UUID) -> models.Log | None:
    """The log of a place, if it was begun."""
    return models.Log.objects.filter(place_id=place_id).first()


def nothing_planned(place: PlaceFacts) -> RunSheet:
    """The sheet of a place without a program: it has no lines."""
    return RunSheet(place, None, "", None, None, None, False, (), None, None, False, None)


def run_sheet(
    place: PlaceFacts, program: ProgramView, log: models.Log | None, *, now: datetime, line_id: UUID | None = None
) -> RunSheet:
    """The sheet of a place, showing `line_id` or the first line without a mark; a fixed number of queries."""
    marked = _marked(log)
    lines = _sheet_lines(program, place, marked)
    taught = [line for line in lines if line.no and line.marked]
    last = max(taught, key=lambda line: line.marked.at if line.marked else now, default=None)
    return RunSheet(
        place=place,
        program_id=program.id,
        template=program.template,
        log_id=log.pk if log else None,
        started_at=log.started_at if log else None,
        finished_at=log.finished_at if log else None,
        has_note=bool(log and log.sealed_note),
        lines=lines,
        at=_shown(lines, line_id),
        last=last,
        can_undo=bool(last and last.marked and now - last.marked.at <= UNDO_STANDS),
        rail=program.rail,
    )


def _marked(log: models.Log | None) -> dict[UUID, Marked]:
    if log is None:
        return {}
    rows = log.lines.values_list("program_line_id", "mark", "reps", "score", "sealed_note", "marked_at", "sealed_felt")
    return {
        key: Marked(Mark(mark), reps, score, bool(note), at, bool(felt))
        for key, mark, reps, score, note, at, felt in rows
    }


def _sheet_lines(program: ProgramView, place: PlaceFacts, marked: dict[UUID, Marked]) -> tuple[SheetLine, ...]:
    active = program.active
    inventory = SpringSet.of(place.inventory) if place.kind is ApparatusKind.REFORMER and place.inventory else None
    walk = [(line.apparatus, SpringSet.of(line.springs) if line.springs else None) for line in active]
    set_before = dict(zip((line.id for line in active), settings(walk, inventory), strict=True))
    ladders = repertoire.ladders([line.exercise_id for line in active])
    parts = _parts(active)
    decided = _decided(program.client_id, [line.exercise_id for line in active])
    found, no = [], 0
    for line in program.lines:
        no += not line.is_out
        found.append(
            SheetLine(
                line=line,
                no=0 if line.is_out else no,
                setting=set_before.get(line.id, Setting("", ())),
                ladder=ladders.get(line.exercise_id, Ladder()),
                marked=marked.get(line.id),
                part_of=parts.get(line.id, ""),
                decided=decided.get(line.exercise_id, ""),
            )
        )
    return tuple(found)


def _decided(client_id: UUID, ids: list[str]) -> dict[str, str]:
    """`advance: single leg` by exercise, where a teacher has decided for this lesson."""
    found = progress.decided_words(client_id, ids=ids)
    return {one.exercise_id: ": ".join(filter(None, [one.step.words, one.next_words])) for one in found}


def _parts(active: tuple[ProgramLine, ...]) -> dict[UUID, str]:
    """`part 2 of 4` for lines whose exercise is taught in several parts."""
    runs: list[list[ProgramLine]] = []
    for line in active:
        if runs and (runs[-1][-1].exercise, runs[-1][-1].apparatus) == (line.exercise, line.apparatus):
            runs[-1].append(line)
        else:
            runs.append([line])
    return {line.id: f"part {at} of {len(run)}" for run in runs if len(run) > 1 for at, line in enumerate(run, 1)}


def _shown(lines: tuple[SheetLine, ...], line_id: UUID | None) -> int | None:
    for at, line in enumerate(lines):
        if line.no and line.line.id == line_id:
            return at
    return next((at for at, line in enumerate(lines) if line.no and line.marked is None), None)


def log_of(place_id: UUID) -> UUID | None:
    """The log of a place, if it was begun."""
    return models.Log.objects.filter(place_id=place_id).values_list("id", flat=True).first()


def client_of(place_id: UUID) -> UUID:
    """Whose place it is. Raises Place.DoesNotExist."""
    return scheduling_queries.place_facts(place_id).client_id
