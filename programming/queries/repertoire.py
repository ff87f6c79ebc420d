"""The studio's repertoire and time model as the rules read them, and as people browse them."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F, Q

from programming import models
from programming.rules.lines import reps_words
from programming.rules.repertoire import ExerciseRow, exercise_from
from programming.rules.timing import Times, planned_seconds, times_from
from studio.rules import ApparatusKind


@dataclass(frozen=True)
class Ladder:
    """What stands beside a line at the machine: a fault with the words for it, and one step down. Empty where none."""

    when_seen: str = ""
    cue: str = ""
    easier: str = ""


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
    seconds: float
    is_edited: bool
    is_retired: bool


@dataclass(frozen=True)
class ExerciseCard:
    """One exercise with every column, its ladder, and what was changed here: (column, reference's value)."""

    row: RepertoireRow
    columns: dict[str, str]
    demands: tuple[tuple[str, bool], ...]
    changed: tuple[tuple[str, str], ...]
    edited_by: str
    edited_at: datetime | None


def exercises() -> dict[str, ExerciseRow]:
    """Every exercise practised here by id, in the order of its apparatus; one query."""
    rows = models.Exercise.objects.filter(retired_at=None).order_by("apparatus_kind", "order_in_apparatus", "id")
    return {key: exercise_from(row) for key, row in rows.values_list("id", "row")}


def known_exercises(ids: Collection[str]) -> dict[str, ExerciseRow]:
    """These exercises by id, retired ones too: an old program still names them. One query."""
    rows = models.Exercise.objects.filter(pk__in=set(ids))
    return {key: exercise_from(row) for key, row in rows.values_list("id", "row")}


def versions_now(ids: Collection[str]) -> dict[str, int]:
    """The version each exercise has now, retired ones too; one query. A program line keeps it when it is written."""
    return dict(models.Exercise.objects.filter(pk__in=set(ids)).values_list("id", "version"))


def versions_of(pairs: Collection[tuple[str, int]]) -> dict[tuple[str, int], ExerciseRow]:
    """Exercises as they read at a version, by (id, version): how what was planned is shown. One query.

    Raises KeyError for a version that was never written.
    """
    wanted = set(pairs)
    rows = models.ExerciseVersion.objects.filter(
        exercise_id__in={key for key, _ in wanted}, version__in={version for _, version in wanted}
    )
    found = {(key, version): row for key, version, row in rows.values_list("exercise_id", "version", "row")}
    return {pair: exercise_from(found[pair]) for pair in wanted}


def planned_in(ids: Collection[str]) -> list[tuple[str, str]]:
    """(exercise, template) for each of these exercises that a template not retired still plans; one query."""
    lines = models.TemplateLine.objects.filter(exercise_id__in=set(ids)).exclude(template__state="retired")
    return sorted(set(lines.values_list("exercise_id", "template__name")))


def times() -> Times:
    return times_from(models.RepertoireTable.objects.get(name="session_time").rows)


def ladders(ids: Collection[str]) -> dict[str, Ladder]:
    """The ladder beside each exercise; one query. An easier step that brings in a demand or another row is left out."""
    steps = models.LadderStep.objects.filter(exercises__in=set(ids), kind__in=("fault_cue", "regression"))
    found: dict[str, Ladder] = {}
    for key, kind, row in steps.order_by("position").values_list("exercises__id", "kind", "row"):
        ladder = found.get(key, Ladder())
        if kind == "fault_cue" and not ladder.cue:
            found[key] = Ladder(row["when_seen"], row["change"], ladder.easier)
        elif kind == "regression" and not (ladder.easier or row["adds"] or row["substitutes_row"]):
            found[key] = Ladder(ladder.when_seen, ladder.cue, row["change"])
    return found


def browse(*, kind: str = "", text: str = "") -> list[RepertoireRow]:
    """Exercises of one kind of apparatus, or of all, with every word of `text` in their names; one query."""
    rows = models.Exercise.objects.order_by("apparatus_kind", "order_in_apparatus", "id")
    if kind:
        rows = rows.filter(apparatus_kind=kind)
    for word in text[:80].replace("\x00", "").split()[:6]:
        rows = rows.filter(
            Q(name__icontains=word) | Q(part__icontains=word) | Q(series__icontains=word) | Q(id__iexact=word)
        )
    edited = Q(reference_row=None) | ~Q(row=F("reference_row"))
    changed = set(models.Exercise.objects.filter(edited).values_list("id", flat=True))
    return [_row(exercise, exercise.pk in changed) for exercise in rows]


def _row(exercise: models.Exercise, is_edited: bool) -> RepertoireRow:
    read = exercise_from(exercise.row)
    return RepertoireRow(
        id=exercise.pk,
        kind=read.apparatus,
        series=read.series,
        name=read.name,
        level=read.level,
        springs="" if read.springs_usual is None else str(read.springs_usual),
        reps=reps_words(read, None),
        seconds=planned_seconds(read),
        is_edited=is_edited,
        is_retired=exercise.retired_at is not None,
    )


def exercise_card(exercise_id: str) -> ExerciseCard:
    """One exercise, its demands by name with whether the usual regression takes them out. Raises DoesNotExist."""
    exercise = models.Exercise.objects.select_related("edited_by").get(pk=exercise_id)
    demands = exercise.exercise_demands.order_by("demand__position").values_list("demand__name", "removable")
    reference = exercise.reference_row or {}
    changed = [(name, value) for name, value in reference.items() if exercise.row.get(name) != value]
    return ExerciseCard(
        row=_row(exercise, bool(changed) or not reference),
        columns=dict(exercise.row),
        demands=tuple(demands),
        changed=tuple(changed),
        edited_by=exercise.edited_by.name if exercise.edited_by else "",
        edited_at=exercise.edited_at,
    )
