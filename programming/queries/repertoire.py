"""The studio's repertoire and time model as the rules read them."""

from programming import models
from programming.rules.repertoire import ExerciseRow, exercise_from
from programming.rules.timing import Times, times_from


def exercises() -> dict[str, ExerciseRow]:
    """Every exercise practised here by id, in the order of its apparatus; one query."""
    rows = models.Exercise.objects.filter(retired_at=None).order_by("apparatus_kind", "order_in_apparatus", "id")
    return {key: exercise_from(row) for key, row in rows.values_list("id", "row")}


def times() -> Times:
    return times_from(models.RepertoireTable.objects.get(name="session_time").rows)
