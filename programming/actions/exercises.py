"""Editing the studio's own repertoire: one row at a time, checked as the whole table is checked."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from clients.models import Demand, Source
from programming import models
from programming.actions.rows import write_row
from programming.rules.reference.practice import repertoire_faults
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused

# What a studio settles for itself; names, demands and order come from the reference.
OWN_COLUMNS = (
    "springs_usual",
    "springs_min",
    "springs_max",
    "reps_low",
    "reps_high",
    "tempo_seconds_per_rep",
    "setup_seconds",
    "level",
    "usual_regression",
    "note",
)
LONGEST = 300


def edit_exercise(exercise_id: str, *, changes: Mapping[str, str], by: Person, now: datetime) -> models.Exercise:
    """Change columns of a row. Programs fitted before stay as they are.

    Raises Refused with every fault the changed table would have, and TypeError for a column that is not the studio's.
    """
    if foreign := set(changes) - set(OWN_COLUMNS):
        raise TypeError(f"not the studio's to edit: {', '.join(sorted(foreign))}")
    with transaction.atomic():
        rows = {row.pk: row for row in models.Exercise.objects.select_for_update(of=("self",)).order_by("pk")}
        if exercise_id not in rows:
            raise models.Exercise.DoesNotExist(exercise_id)
        exercise = rows[exercise_id]
        before = dict(exercise.row)
        wanted = before | {name: " ".join(value.split()) for name, value in changes.items()}
        _refuse_faults(exercise_id, wanted, {key: row.row for key, row in rows.items()})
        if wanted == before:
            return exercise
        exercise.edited_by, exercise.edited_at = by, now
        write_row(exercise, wanted, by=by, now=now)
        changed = {name: [before[name], wanted[name]] for name in changes if before[name] != wanted[name]}
        audit.wrote("edit_exercise", exercise, by=by, now=now, detail={"changed": changed})
    return exercise


def _refuse_faults(exercise_id: str, wanted: dict[str, str], rows: dict[str, dict[str, str]]) -> None:
    long = [
        Reason("too_long", "That is too long.", field=name, allowed=f"at most {LONGEST} characters")
        for name in ("usual_regression", "note")
        if len(wanted[name]) > LONGEST
    ]
    table = [wanted, *(row for key, row in rows.items() if key != exercise_id)]
    lookups = {
        "demands": [{"code": code} for code in Demand.objects.values_list("code", flat=True)],
        "sources": [{"id": key} for key in Source.objects.values_list("id", flat=True)],
    }
    # The changed row stands first, on line 2; faults that other rows may have are not this edit's.
    found = [fault for fault in repertoire_faults({"repertoire": table, **lookups}) if fault.line == 2]
    if long or found:
        raise Refused(long + [Reason("broken_row", _words(one.reason), _column(one.reason)) for one in found])


def _column(reason: str) -> str:
    if reason.startswith("repetitions"):
        return "reps_high"
    if reason.startswith("springs"):
        return "springs_usual"
    return next((name for name in OWN_COLUMNS if reason.startswith(name)), "")


def _words(reason: str) -> str:
    for name in OWN_COLUMNS:
        if reason.startswith(name):
            return f"{name.replace('_', ' ').capitalize()}{reason.removeprefix(name)}."
    return f"{reason.capitalize()}."
