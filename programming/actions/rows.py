"""Writing a row of the repertoire or a step of a ladder: its columns, what hangs on it, and the version it makes."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from programming import models
from programming.rules import repertoire as rules
from programming.rules.reference.faults import Row, split
from studio.models import Person


def write_row(exercise: models.Exercise, row: Row, *, by: Person | None, why: str = "", now: datetime) -> int:
    """Save `row` on the exercise as its next version, with its demands as rows of their own; the version's number.

    A program line names its version: none is ever changed.
    """
    read = rules.exercise_from(row)
    exercise.version = 1 if exercise._state.adding else exercise.version + 1
    exercise.row = dict(row)
    exercise.apparatus_kind = read.apparatus.value
    exercise.order_in_apparatus = read.order_in_apparatus
    exercise.series = read.series
    exercise.position_in_series = read.position_in_series
    exercise.name, exercise.part = read.exercise, read.part
    exercise.level, exercise.family, exercise.purpose = read.level, read.family, list(read.purpose)
    exercise.save()
    exercise.versions.create(version=exercise.version, row=exercise.row, why=why, made_by=by, made_at=now)
    exercise.exercise_demands.all().delete()
    models.ExerciseDemand.objects.bulk_create(
        models.ExerciseDemand(exercise=exercise, demand_id=code, removable=code in read.removable)
        for code in sorted(read.demands)
    )
    return exercise.version


def write_step(step: models.LadderStep, row: Row, *, by: Person | None, why: str = "", now: datetime) -> int:
    """Save `row` on the step as its next version, with the exercises it belongs to; the version's number."""
    step.version = 1 if step._state.adding else step.version + 1
    step.row = dict(row)
    step.ladder, step.kind = row["ladder"], row["kind"]
    step.save()
    step.versions.create(version=step.version, row=step.row, why=why, made_by=by, made_at=now)
    step.exercises.set(_keys(row))
    return step.version


def add_steps(steps: Sequence[models.LadderStep], *, now: datetime) -> None:
    """Save steps that are not there yet, all at once: a first load has hundreds."""
    models.LadderStep.objects.bulk_create(steps)
    models.LadderStepVersion.objects.bulk_create(
        models.LadderStepVersion(step=step, version=1, row=step.row, made_at=now) for step in steps
    )
    link = models.LadderStep.exercises.through
    link.objects.bulk_create(link(ladderstep=step, exercise_id=key) for step in steps for key in _keys(step.row))


def _keys(row: Row) -> list[Any]:
    return list(split(row["repertoire_ids"]))
