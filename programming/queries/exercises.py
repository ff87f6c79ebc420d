"""The repertoire as people browse it, and all that one row's page shows."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F, Q

from clients import queries as client_queries
from clients.models import Demand
from programming import models
from programming.queries import repertoire
from programming.rules import entries, search
from programming.rules.entries import About
from programming.rules.lines import reps_words
from programming.rules.prerequisites import Surroundings, around
from programming.rules.repertoire import ExerciseRow, LadderStep, StepKind, exercise_from, step_from
from programming.rules.search import Wanted
from programming.rules.timing import planned_seconds
from studio.rules import ApparatusKind

KINDS = list(ApparatusKind)


@dataclass(frozen=True)
class RepertoireRow:
    """One exercise in the list of the office. `seconds` is set-up and movement before pace and coaching."""

    id: str
    kind: ApparatusKind
    series: str
    name: str
    level: int
    springs: str
    reps: str
    position: str
    aims: tuple[str, ...]
    seconds: float
    is_edited: bool
    is_retired: bool


@dataclass(frozen=True)
class Choices:
    """What can be chosen from when looking through: as it stands in the rows in use."""

    series: tuple[tuple[str, tuple[str, ...]], ...]
    aims: tuple[tuple[str, str], ...]
    positions: tuple[str, ...]
    demands: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class DemandLine:
    """A demand of a row; `easier` says what its usual easier form does with it: keeps, takes out or brings in."""

    name: str
    definition: str
    easier: str


@dataclass(frozen=True)
class StepLine:
    """A step of a ladder in words; `becomes` is the row that takes its place, when it is a substitution."""

    code: str
    kind: StepKind
    when_seen: str
    change: str
    removes: tuple[str, ...]
    adds: tuple[str, ...]
    becomes: ExerciseRow | None
    is_own: bool


@dataclass(frozen=True)
class LadderView:
    """The ladder of a row; `steps` by kind, each kind easier first as the studio orders it."""

    name: str
    repeat_while: str
    advance_by: str
    steps: Mapping[str, tuple[StepLine, ...]]


@dataclass(frozen=True)
class PoolView:
    """The pool of repetitions a row shares: with whom, and the counts that hold."""

    name: str
    total: int
    role: str
    fewest: int
    others: tuple[ExerciseRow, ...]
    counts: tuple[str, ...]


@dataclass(frozen=True)
class ExerciseCard:
    """One exercise with everything that is known of it here."""

    row: RepertoireRow
    read: ExerciseRow
    version: int
    columns: Mapping[str, str]
    demands: tuple[DemandLine, ...]
    ladders: tuple[LadderView, ...]
    pool: PoolView | None
    surroundings: Surroundings
    family: tuple[ExerciseRow, ...]
    templates: tuple[str, ...]
    stop_signs: tuple[tuple[str, str], ...]
    changed: tuple[entries.Difference, ...]
    is_own: bool
    edited_by: str
    edited_at: datetime | None
    retired_by: str
    retired_at: datetime | None

    @property
    def setup_words(self) -> str:
        """The set-up of the apparatus: `footbar up, headrest down, box none`."""
        told = (key if key == value else f"{key} {value}" for key, value in self.read.setup.items())
        return ", ".join(told).replace("_", " ")

    @property
    def changed_words(self) -> str:
        """What differs from the reference, as the screens call it."""
        return ", ".join(About.EXERCISE.labels[one.column].lower() for one in self.changed)


def browse(wanted: Wanted | None = None) -> list[RepertoireRow]:
    """Exercises with all that is wanted, retired ones last; two queries."""
    rows = models.Exercise.objects.order_by("apparatus_kind", "order_in_apparatus", "id")
    edited = set(rows.filter(Q(reference_row=None) | ~Q(row=F("reference_row"))).values_list("id", flat=True))
    kept = {row.pk: row for row in rows.only("id", "row", "retired_at")}
    found = search.found([exercise_from(row.row) for row in kept.values()], wanted or Wanted())
    shown = [_row(row, row.id in edited, kept[row.id].retired_at is not None) for row in found]
    return sorted(shown, key=lambda row: (row.is_retired, KINDS.index(row.kind)))


def choices() -> Choices:
    """Two queries."""
    rows = list(repertoire.exercises().values())
    series: dict[str, dict[str, None]] = {}
    for row in rows:
        series.setdefault(row.apparatus.value, {})[row.series] = None
    aims = sorted({aim for row in rows for aim in row.purpose})
    return Choices(
        series=tuple((kind, tuple(names)) for kind, names in series.items()),
        aims=tuple((aim, aim.replace("_", " ")) for aim in aims),
        positions=tuple(sorted({row.start_position for row in rows})),
        demands=demands(),
    )


def setup_hint(kind: str) -> str:
    """How a set-up is written for an apparatus: its keys and their words."""
    rows = models.Exercise.objects.filter(retired_at=None).values_list("row", flat=True)
    known = entries.setup_words(kind, rows) if kind else {}
    told = (f"{key}={' or '.join(values)}" if values[0] else key for key, values in known.items())
    return "Apart by “;”: " + "; ".join(told)


def demands() -> tuple[tuple[str, str], ...]:
    """(code, name) of every demand, in the order of the reference; one query."""
    return tuple(Demand.objects.order_by("position").values_list("code", "name"))


def _row(read: ExerciseRow, is_edited: bool, is_retired: bool) -> RepertoireRow:
    return RepertoireRow(
        id=read.id,
        kind=read.apparatus,
        series=read.series,
        name=read.name,
        level=read.level,
        springs="" if read.springs_usual is None else str(read.springs_usual),
        reps=reps_words(read, None),
        position=read.start_position,
        aims=tuple(aim.replace("_", " ") for aim in read.purpose),
        seconds=planned_seconds(read),
        is_edited=is_edited,
        is_retired=is_retired,
    )


def exercise_card(exercise_id: str) -> ExerciseCard:
    """One exercise with all its page shows, in a fixed number of queries. Raises DoesNotExist."""
    exercise = models.Exercise.objects.select_related("edited_by", "retired_by").get(pk=exercise_id)
    read = exercise_from(exercise.row)
    rows = repertoire.exercises()
    rulebook = client_queries.rules_in_force().rulebook
    known = {**rows, exercise_id: read}
    reference = exercise.reference_row or {}
    differences = entries.differences(About.EXERCISE, reference, exercise.row) if reference else ()
    return ExerciseCard(
        row=_row(read, bool(differences) or not reference, exercise.retired_at is not None),
        read=read,
        version=exercise.version,
        columns=exercise.row,
        demands=_demands(read),
        ladders=_ladders(exercise_id, known),
        pool=_pool(read, rows),
        surroundings=around(exercise_id, known),
        family=tuple(row for row in rows.values() if row.family == read.family and row.id != read.id),
        templates=tuple(name for _, name in repertoire.planned_in([exercise_id])),
        stop_signs=tuple((sign.statement, sign.action) for sign in rulebook.stop_signs.values()),
        changed=differences,
        is_own=not reference,
        edited_by=exercise.edited_by.name if exercise.edited_by else "",
        edited_at=exercise.edited_at,
        retired_by=exercise.retired_by.name if exercise.retired_by else "",
        retired_at=exercise.retired_at,
    )


def _demands(read: ExerciseRow) -> tuple[DemandLine, ...]:
    asked = read.demands | read.regression_adds
    rows = Demand.objects.filter(code__in=asked).order_by("position").values_list("code", "name", "definition")
    return tuple(DemandLine(name, definition, _easier(code, read)) for code, name, definition in rows)


def _easier(code: str, read: ExerciseRow) -> str:
    if code not in read.demands:
        return "brings in"
    return "keeps" if code in read.regressed_demands else "takes out"


def _ladders(exercise_id: str, known: Mapping[str, ExerciseRow]) -> tuple[LadderView, ...]:
    steps = models.LadderStep.objects.filter(exercises=exercise_id, retired_at=None).order_by("position", "code")
    names = dict(demands())
    found: dict[str, list[StepLine]] = {}
    for row, reference in steps.values_list("row", "reference_row"):
        step = step_from(row)
        found.setdefault(step.ladder, []).append(_step(step, names, known, row != reference))
    gates = {row["ladder"]: row for row in repertoire.table("ladder_gates")} if found else {}
    return tuple(_ladder(name, lines, gates.get(name, {})) for name, lines in found.items())


def _ladder(name: str, lines: Iterable[StepLine], gate: Mapping[str, str]) -> LadderView:
    by_kind: dict[str, list[StepLine]] = {}
    for line in lines:
        by_kind.setdefault(line.kind.value, []).append(line)
    steps = {kind: tuple(found) for kind, found in by_kind.items()}
    return LadderView(name.replace("_", " "), gate.get("repeat_while", ""), gate.get("advance_by", ""), steps)


def _step(step: LadderStep, names: Mapping[str, str], known: Mapping[str, ExerciseRow], is_own: bool) -> StepLine:
    return StepLine(
        code=step.code,
        kind=step.kind,
        when_seen=step.when_seen,
        change=step.change,
        removes=tuple(names.get(code, code) for code in sorted(step.removes)),
        adds=tuple(names.get(code, code) for code in sorted(step.adds)),
        becomes=known.get(step.substitutes),
        is_own=is_own,
    )


def _pool(read: ExerciseRow, rows: Mapping[str, ExerciseRow]) -> PoolView | None:
    if not read.rep_pool:
        return None
    same = [row for row in repertoire.table("pool_rules") if row["pool"] == read.rep_pool and row["valid"] == "y"]
    counts = tuple(
        f"{_some(row['recipient_count'])}: {row['donor_counts'].replace(';', ' and ')}"
        for row in same
        if row["total"] == str(read.rep_pool_total)
    )
    others = tuple(row for row in rows.values() if row.rep_pool == read.rep_pool and row.id != read.id)
    return PoolView(read.rep_pool, read.rep_pool_total or 0, read.rep_pool_role, read.rep_pool_min or 0, others, counts)


def _some(count: str) -> str:
    return "without it" if count == "0" else f"{count} of it"
