"""The studio's repertoire and what it was loaded from; rows the studio edited are never overwritten."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from clients.actions import reference as clinical_actions
from programming import models
from programming.rules import repertoire as rules
from programming.rules.reference.faults import Row, Tables
from studio.actions import audit
from studio.rules import Reason, Refused

# Tables kept whole; the repertoire and the ladders have rows of their own.
SMALL_TABLES = (
    "ladder_gates",
    "pool_rules",
    "springs_default",
    "spring_translation",
    "session_time",
    "exposure_ceilings",
    "supervision",
    "segment_ratios",
    "leg_length_regression",
)


@dataclass(frozen=True)
class Preview:
    """What a load would do: `is_first` when nothing was loaded before; `clinical` when it would propose new rules."""

    is_first: bool
    clinical: bool
    changes: tuple[rules.Change, ...]
    tables: tuple[str, ...]

    @property
    def changes_nothing(self) -> bool:
        mine = [change for change in self.changes if change.kind is not rules.ChangeKind.KEPT_OWN]
        return not (self.clinical or mine or self.tables)


def preview_load(tables: Tables) -> Preview:
    """What `load_reference` would change, changing nothing. Raises Refused with every fault's file and line."""
    _refuse_faults(tables)
    current = {exercise.id: exercise for exercise in models.Exercise.objects.filter(retired_at=None)}
    edited = [key for key, exercise in current.items() if exercise.row != exercise.reference_row]
    steps = [step.row for step in models.LadderStep.objects.all()]
    kept = dict(models.RepertoireTable.objects.values_list("name", "rows"))
    found = rules.changes([exercise.row for exercise in current.values()], tables["repertoire"], edited=edited)
    found += rules.changes(steps, tables["ladders"], key="code")
    other = tuple(name for name in SMALL_TABLES if kept.get(name) != [dict(row) for row in tables[name]])
    return Preview(not current, clinical_actions.would_change(tables), tuple(found), other)


def load_reference(tables: Tables, *, now: datetime) -> Preview:
    """Load all reference tables of both apps, or nothing; returns what changed. Rows edited here are kept.

    Raises Refused with every fault's file and line.
    """
    with transaction.atomic():
        done = preview_load(tables)
        clinical_actions.load_reference(tables, now=now)
        if not done.changes_nothing:
            _take_exercises(tables["repertoire"], now)
            _take_ladders(tables["ladders"])
            for name in SMALL_TABLES:
                rows = [dict(row) for row in tables[name]]
                models.RepertoireTable.objects.update_or_create(name=name, defaults={"rows": rows, "loaded_at": now})
    return done


def _refuse_faults(tables: Tables) -> None:
    if found := rules.faults(tables):
        raise Refused(
            [Reason("broken_reference", f"{one.table}.csv, line {one.line}: {one.reason}", one.table) for one in found]
        )


def _take_exercises(rows: Sequence[Row], now: datetime) -> None:
    kept = {exercise.id: exercise for exercise in models.Exercise.objects.select_for_update()}
    for row in rows:
        exercise = kept.pop(row["id"], None)
        if exercise and exercise.row != exercise.reference_row:
            exercise.reference_row = dict(row)
            exercise.save(update_fields=["reference_row"])
            continue
        if exercise and exercise.row == dict(row) and exercise.retired_at is None:
            continue
        exercise = exercise or models.Exercise(id=row["id"])
        exercise.reference_row = dict(row)
        exercise.retired_at = None
        write_row(exercise, row)
        audit.wrote("load_exercise", exercise, by=None, now=now, actor="reference loader")
    for gone in kept.values():
        if gone.retired_at is None and gone.row == gone.reference_row:
            gone.retired_at = now
            gone.save(update_fields=["retired_at"])
            audit.wrote("retire_exercise", gone, by=None, now=now, actor="reference loader")


def write_row(exercise: models.Exercise, row: Row) -> None:
    """Save `row` on the exercise: its columns, and its demands as rows of their own."""
    read = rules.exercise_from(row)
    exercise.row = dict(row)
    exercise.apparatus_kind = read.apparatus.value
    exercise.order_in_apparatus = read.order_in_apparatus
    exercise.series = read.series
    exercise.position_in_series = read.position_in_series
    exercise.name, exercise.part = read.exercise, read.part
    exercise.level, exercise.family, exercise.purpose = read.level, read.family, list(read.purpose)
    exercise.save()
    exercise.exercise_demands.all().delete()
    models.ExerciseDemand.objects.bulk_create(
        models.ExerciseDemand(exercise=exercise, demand_id=code, removable=code in read.removable)
        for code in sorted(read.demands)
    )


def _take_ladders(rows: Sequence[Row]) -> None:
    models.LadderStep.objects.exclude(code__in=[row["code"] for row in rows]).delete()
    for position, row in enumerate(rows):
        step, _ = models.LadderStep.objects.update_or_create(
            code=row["code"],
            defaults={"ladder": row["ladder"], "kind": row["kind"], "position": position, "row": dict(row)},
        )
        keys: list[Any] = [part for part in row["repertoire_ids"].split(";") if part]
        step.exercises.set(keys)
