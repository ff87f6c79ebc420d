"""The studio's repertoire and what it was loaded from; rows the studio edited are never overwritten."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from clients.actions import reference as clinical_actions
from programming import models
from programming.actions.rows import add_steps, write_row, write_step
from programming.queries import repertoire as repertoire_queries
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
FROM_REFERENCE = "taken over from the reference"


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
    """What `load_reference` would change, changing nothing.

    Raises Refused with every fault's file and line, with what the studio's own rows would make of the new ones, and
    with the templates that plan a row which is no longer there.
    """
    _refuse_faults(tables)
    exercises, steps = _kept_exercises(), _kept_steps()
    _refuse_clashes(tables, exercises, steps)
    kept = dict(models.RepertoireTable.objects.values_list("name", "rows"))
    found = rules.changes([row.row for row in exercises], tables["repertoire"], edited=_own(exercises))
    found += rules.changes([step.row for step in steps], tables["ladders"], edited=_own(steps), key="code")
    other = tuple(name for name in SMALL_TABLES if kept.get(name) != [dict(row) for row in tables[name]])
    return Preview(not exercises, clinical_actions.would_change(tables), tuple(found), other)


def load_reference(tables: Tables, *, now: datetime) -> Preview:
    """Load all reference tables of both apps, or nothing; returns what changed. What was changed here is kept.

    Raises Refused as `preview_load` does.
    """
    with transaction.atomic():
        done = preview_load(tables)
        clinical_actions.load_reference(tables, now=now)
        if not done.changes_nothing:
            _take_exercises(tables["repertoire"], now)
            _take_ladders(tables["ladders"], now)
            for name in SMALL_TABLES:
                rows = [dict(row) for row in tables[name]]
                models.RepertoireTable.objects.update_or_create(name=name, defaults={"rows": rows, "loaded_at": now})
    return done


def _kept_exercises() -> list[models.Exercise]:
    """Rows in use, and those that somebody here took out of use; not those that the reference dropped."""
    return [row for row in models.Exercise.objects.order_by("pk") if row.retired_at is None or row.retired_by_id]


def _kept_steps() -> list[models.LadderStep]:
    steps = models.LadderStep.objects.order_by("position", "code")
    return [step for step in steps if step.retired_at is None or step.retired_by_id]


def is_own(kept: models.Exercise | models.LadderStep) -> bool:
    """Changed, added or taken out of use here: a reload leaves it alone."""
    return kept.row != kept.reference_row or kept.retired_by_id is not None


def _own(kept: Iterable[models.Exercise | models.LadderStep]) -> list[str]:
    return [one.pk for one in kept if is_own(one)]


def _refuse_faults(tables: Tables) -> None:
    if found := rules.faults(tables):
        raise Refused(
            [Reason("broken_reference", f"{one.table}.csv, line {one.line}: {one.reason}", one.table) for one in found]
        )


def _refuse_clashes(tables: Tables, exercises: Sequence[models.Exercise], steps: Sequence[models.LadderStep]) -> None:
    merged = {
        **tables,
        "repertoire": _merged(tables["repertoire"], exercises, "id"),
        "ladders": _merged(tables["ladders"], steps, "code"),
    }
    said = [_clash(one, merged) for one in rules.faults(merged)] if _own(exercises) or _own(steps) else []
    gone = {row.pk for row in exercises} - {row["id"] for row in merged["repertoire"]}
    said += [
        Reason("row_is_planned", f"The reference drops {key}, which {name} still plans.", allowed="take it out there")
        for key, name in repertoire_queries.planned_in(gone)
    ]
    if said:
        raise Refused(said)


def _merged(rows: Sequence[Row], kept: Sequence[models.Exercise] | Sequence[models.LadderStep], key: str) -> list[Row]:
    """The incoming rows with the studio's own in their places, its additions last, its retired ones gone."""
    own = {one.pk: one for one in kept if is_own(one)}
    new = [row for row in rows if row[key] not in own]
    return new + [one.row for one in own.values() if one.retired_at is None]


def _clash(fault: rules.Fault, tables: Tables) -> Reason:
    rows = tables[fault.table]
    row: Mapping[str, str] = rows[fault.line - 2] if 0 <= fault.line - 2 < len(rows) else {}
    name = row.get("id") or row.get("code") or fault.table
    return Reason("own_rows_clash", f"With what was changed here, {name} would not hold together: {fault.reason}.")


def _take_exercises(rows: Sequence[Row], now: datetime) -> None:
    kept = {exercise.id: exercise for exercise in models.Exercise.objects.select_for_update()}
    for row in rows:
        exercise = kept.pop(row["id"], None)
        if exercise and is_own(exercise):
            _note_reference(exercise, row)
            continue
        if exercise and exercise.row == dict(row) and exercise.retired_at is None:
            continue
        exercise = exercise or models.Exercise(id=row["id"])
        exercise.reference_row = dict(row)
        exercise.retired_at = None
        write_row(exercise, row, by=None, why=FROM_REFERENCE, now=now)
        audit.wrote("load_exercise", exercise, by=None, now=now, actor="reference loader")
    _drop(kept.values(), now)


def _take_ladders(rows: Sequence[Row], now: datetime) -> None:
    kept = {step.code: step for step in models.LadderStep.objects.select_for_update()}
    ends: dict[str, int] = {}
    new: list[models.LadderStep] = []
    for position, row in enumerate(rows):
        ends[row["ladder"]] = position
        step = kept.pop(row["code"], None)
        if step is None:
            fresh = models.LadderStep(code=row["code"], ladder=row["ladder"], kind=row["kind"], row=dict(row))
            fresh.position, fresh.reference_row = position, dict(row)
            new.append(fresh)
        else:
            _take_step(step, row, position, now)
    add_steps(new, now=now)
    _drop(kept.values(), now)
    for own in kept.values():
        models.LadderStep.objects.filter(pk=own.pk).update(position=ends.get(own.ladder, own.position))


def _take_step(step: models.LadderStep, row: Row, position: int, now: datetime) -> None:
    step.position = position
    if is_own(step):
        _note_reference(step, row)
    elif step.row == dict(row) and step.retired_at is None:
        step.save(update_fields=["position"])
    else:
        step.reference_row, step.retired_at = dict(row), None
        write_step(step, row, by=None, why=FROM_REFERENCE, now=now)


def _note_reference(own: models.Exercise | models.LadderStep, row: Row) -> None:
    """What the reference says now stands beside the studio's own, so that it can be taken over by hand."""
    own.reference_row = dict(row)
    own.save()


def _drop(kept: Iterable[models.Exercise | models.LadderStep], now: datetime) -> None:
    """Those that the reference no longer holds go out of use; they stay to be read by what was planned with them."""
    for gone in kept:
        if gone.retired_at is None and not is_own(gone):
            gone.retired_at = now
            gone.save(update_fields=["retired_at"])
            verb = "retire_exercise" if isinstance(gone, models.Exercise) else "retire_step"
            audit.wrote(verb, gone, by=None, now=now, actor="reference loader")
