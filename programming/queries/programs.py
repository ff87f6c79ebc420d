"""Programs as people read them: every line with what fitting did to it and why, the rail, and the rule report."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import accumulate, pairwise
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from clients import queries as client_queries
from clients.rules.reference import Rulebook
from programming import models
from programming.queries import ladders, repertoire
from programming.queries.fits import Fit, LineFit, WhyStep, aim_words, demand_words, why_steps
from programming.queries.rails import RailView, rail_of
from programming.rules.lines import reps_words
from programming.rules.marks import Decision
from programming.rules.repertoire import ExerciseRow
from programming.rules.timing import Pace, Times
from studio.rules import ApparatusKind

__all__ = ["Fit", "LineFit", "WhyStep"]


@dataclass(frozen=True)
class ProgramLine:
    """One line on the page. `starts` and `seconds` are in seconds from the beginning of the lesson.

    `steps` are the ladder steps it is done with (code, words), `setup` its set-ups for this body, `lost` aims that the
    planned line served and this one does not, `notes` what else than a limit decided; `by_hand` names the teacher who
    chose it herself.
    """

    id: UUID
    no: int
    planned_name: str
    name: str
    exercise: str
    part: str
    group: str
    apparatus: ApparatusKind
    decision: Decision
    springs: str
    reps: str
    count: int
    tempo: int
    starts: float
    seconds: float
    form: str
    why: tuple[WhyStep, ...]
    exercise_id: str
    planned_id: str = ""
    steps: tuple[tuple[str, str], ...] = ()
    setup: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    by_hand: str = ""

    @property
    def is_out(self) -> bool:
        return self.decision is Decision.LEFT_OUT

    @property
    def lasts(self) -> str:
        return clock(self.seconds)

    @property
    def begins(self) -> str:
        return clock(self.starts)


@dataclass(frozen=True)
class Fold:
    """Neighbouring lines of one group that are all as planned, folded into one; a single line stands alone."""

    name: str
    lines: tuple[ProgramLine, ...]

    @property
    def is_folded(self) -> bool:
        return len(self.lines) > 1

    @property
    def seconds(self) -> str:
        return clock(sum(line.seconds for line in self.lines))

    @property
    def first(self) -> ProgramLine:
        return self.lines[0]

    @property
    def last(self) -> ProgramLine:
        return self.lines[-1]

    @property
    def sets(self) -> tuple[str, ...]:
        """The spring sets it goes through, each once."""
        return tuple(dict.fromkeys(line.springs for line in self.lines if line.springs))


@dataclass(frozen=True)
class ProgramView:
    """A program with all its lines.

    `said` is what was said at the check-in it was fitted for, in words. `blocks_most` says in words which demands to
    avoid keep how many planned lines out, when nothing could stay. `unproven` says what is not proven of the fit, if
    anything.
    """

    id: UUID
    client_id: UUID
    client_name: str
    template_id: UUID
    template: str
    template_version: int
    place_id: UUID | None
    place_starts: datetime | None
    zone: ZoneInfo
    apparatus_id: int
    machine: str
    kind: ApparatusKind
    minutes: int
    pace: Pace
    made_at: datetime
    made_by: str
    replaced_at: datetime | None
    fitted_for: dict[str, Any]
    fitted_limits: str
    lines: tuple[ProgramLine, ...]
    rail: RailView
    seconds: float
    revision: int = 0
    today_only: bool = False
    said: str = ""
    lost_aims: tuple[str, ...] = ()
    blocks_most: tuple[tuple[str, int], ...] = ()
    unproven: str = ""

    @property
    def counts(self) -> dict[str, int]:
        return {word.value: sum(line.decision is word for line in self.lines) for word in Decision}

    @property
    def active(self) -> tuple[ProgramLine, ...]:
        return tuple(line for line in self.lines if not line.is_out)

    @property
    def lasts(self) -> str:
        return clock(self.seconds)

    @property
    def spare_minutes(self) -> int:
        return int(self.minutes - self.seconds / 60)

    @property
    def spring_changes(self) -> int:
        return sum(before.springs != after.springs for before, after in pairwise(self.active))

    @property
    def heaviest(self) -> str:
        return max((line.springs for line in self.lines), key=lambda letters: (len(letters), letters), default="")

    @property
    def has_no_springs(self) -> bool:
        """Whether it was fitted to a reformer that carried no springs: then no line with springs could stay."""
        return self.kind is ApparatusKind.REFORMER and self.fitted_for.get("springs") == ""

    @property
    def folds(self) -> tuple[Fold, ...]:
        return folded(self.lines)


@dataclass(frozen=True)
class ProgramRow:
    """A program in a list."""

    id: UUID
    template: str
    machine: str
    made_at: datetime
    made_by: str
    on: date | None
    changed: int
    is_current: bool


def clock(seconds: float) -> str:
    """`46:05` from seconds."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def loaded(program_id: UUID) -> models.Program:
    """A program's row with all that its view needs, its client with her key. Raises Program.DoesNotExist."""
    return _loaded().get(pk=program_id)


def loaded_for_place(place_id: UUID) -> models.Program | None:
    """The same of the program that a place is taught by now, if one was assigned."""
    return _loaded().filter(place_id=place_id, replaced_at=None).first()


def of_place(place_id: UUID) -> UUID | None:
    """The key of the program that a place is taught by now."""
    return models.Program.objects.filter(place_id=place_id, replaced_at=None).values_list("id", flat=True).first()


def programs_of(client_id: UUID, *, limit: int = 12) -> list[ProgramRow]:
    """A client's programs, newest first; two queries."""
    rows = models.Program.objects.filter(client_id=client_id)
    rows = rows.select_related("template", "apparatus", "made_by", "place__lesson__studio")
    found = []
    for row in rows.prefetch_related("lines").order_by("-made_at")[:limit]:
        changed = sum(line.decision != Decision.AS_PLANNED for line in row.lines.all())
        place = row.place
        day = place.during.lower.astimezone(ZoneInfo(place.lesson.studio.time_zone)).date() if place else None
        by = row.made_by.name if row.made_by else ""
        is_current = row.replaced_at is None
        found.append(
            ProgramRow(row.pk, row.template.name, row.apparatus.label, row.made_at, by, day, changed, is_current)
        )
    return found


def folded(lines: Sequence[ProgramLine]) -> tuple[Fold, ...]:
    """The lines in order, neighbours that are as planned and of one group together."""
    runs: list[list[ProgramLine]] = []
    for line in lines:
        quiet = line.decision is Decision.AS_PLANNED
        last = runs[-1][-1] if runs else None
        if quiet and last and last.decision is Decision.AS_PLANNED and last.group == line.group:
            runs[-1].append(line)
        else:
            runs.append([line])
    return tuple(Fold(run[0].group, tuple(run)) for run in runs)


def _loaded() -> Any:
    rows = models.Program.objects.select_related(
        "client", "template", "apparatus__studio", "made_by", "place__lesson__studio"
    )
    return rows.prefetch_related("lines")


def view(row: models.Program, fit: Fit) -> ProgramView:
    """A loaded row (`loaded`) with its opened fit; a fixed number of queries whatever its length."""
    stored = sorted(row.lines.all(), key=lambda line: line.position)
    rows = rows_of(stored)
    times = repertoire.times()
    kind = ApparatusKind(row.apparatus.kind)
    rulebook = client_queries.rules_in_force().rulebook
    lines = _lines(stored, fit, rows, kind, times, rulebook)
    studio = row.place.lesson.studio if row.place else row.apparatus.studio
    return ProgramView(
        id=row.pk,
        client_id=row.client_id,
        client_name=row.client.name,
        template_id=row.template_id,
        template=row.template.name,
        template_version=row.template.version,
        place_id=row.place_id,
        place_starts=row.place.during.lower if row.place else None,
        zone=ZoneInfo(studio.time_zone),
        apparatus_id=row.apparatus_id,
        machine=row.apparatus.label,
        kind=kind,
        minutes=row.minutes,
        pace=Pace(row.pace),
        made_at=row.made_at,
        made_by=row.made_by.name if row.made_by else "",
        replaced_at=row.replaced_at,
        fitted_for=row.fitted_for,
        fitted_limits=fit.limits,
        lines=lines,
        rail=rail_of(lines, row.minutes, times),
        seconds=times.arrival + sum(line.seconds for line in lines) + times.close,
        revision=row.revision,
        today_only=row.today_only,
        said=fit.to.said if fit.to else "",
        lost_aims=aim_words(fit.lost_aims),
        blocks_most=tuple((demand_words(demand, rulebook), lines_out) for demand, lines_out in fit.blocks_most),
        unproven=fit.unproven_words,
    )


@dataclass(frozen=True)
class LineRows:
    """The two rows of a line as they read when it was fitted; `taught` is the planned one where it was left out."""

    planned: ExerciseRow
    taught: ExerciseRow


def rows_of(stored: Sequence[models.ProgramLine]) -> dict[int, LineRows]:
    """The rows of stored lines by position, in the versions they were fitted with; one query."""
    pairs = {(line.planned_id, line.planned_version) for line in stored}
    pairs |= {(line.exercise_id, line.exercise_version) for line in stored if line.exercise_id}
    found = repertoire.versions_of(pairs)
    return {
        line.position: LineRows(
            found[line.planned_id, line.planned_version],
            found[line.exercise_id or line.planned_id, _taught_version(line)],
        )
        for line in stored
    }


def _taught_version(line: models.ProgramLine) -> int:
    return line.exercise_version if line.exercise_id else line.planned_version


def _lines(
    stored: Sequence[models.ProgramLine],
    fit: Fit,
    rows: Mapping[int, LineRows],
    kind: ApparatusKind,
    times: Times,
    rulebook: Rulebook,
) -> tuple[ProgramLine, ...]:
    starts = accumulate((line.seconds for line in stored), initial=times.arrival)
    named = _by_id(rows)
    told = ladders.words_of({code for one in fit.lines.values() for code in one.steps})
    return tuple(
        _line(line, fit.of(line.position), begins, rows[line.position], kind, named, told, rulebook)
        for line, begins in zip(stored, starts, strict=False)
    )


def _by_id(rows: Mapping[int, LineRows]) -> dict[str, ExerciseRow]:
    return {row.id: row for one in rows.values() for row in (one.planned, one.taught)}


def _line(
    line: models.ProgramLine,
    fit: LineFit,
    starts: float,
    rows: LineRows,
    kind: ApparatusKind,
    named: Mapping[str, ExerciseRow],
    told: Mapping[str, str],
    rulebook: Rulebook,
) -> ProgramLine:
    planned, row = rows.planned, rows.taught
    return ProgramLine(
        id=line.pk,
        no=line.position,
        planned_name=planned.name,
        name=row.name,
        exercise=row.exercise,
        part=row.part,
        group=row.series if row.apparatus is kind else row.apparatus.value.capitalize(),
        apparatus=row.apparatus,
        decision=Decision(line.decision),
        springs=line.spring_set,
        reps=reps_words(row, line.reps) if line.exercise_id else "",
        count=line.reps,
        tempo=max(1, round(row.tempo_seconds_per_rep)),
        starts=starts,
        seconds=line.seconds,
        form=fit.form,
        why=why_steps(fit.why, named, rulebook),
        exercise_id=line.exercise_id or "",
        planned_id=line.planned_id,
        steps=tuple((code, told.get(code, "")) for code in fit.steps),
        setup=fit.setup,
        lost=aim_words(fit.lost),
        notes=fit.notes,
        by_hand=fit.by_hand,
    )


def client_of(program_id: UUID) -> UUID:
    """Whose program it is. Raises Program.DoesNotExist."""
    return models.Program.objects.values_list("client_id", flat=True).get(pk=program_id)
