"""The ladders as the rules read them."""

from collections.abc import Collection

from programming import models
from programming.rules.repertoire import LadderStep, step_from


def steps_by_exercise() -> dict[str, tuple[LadderStep, ...]]:
    """Every step in force by exercise id, in the order of its ladder; one query."""
    rows = models.LadderStep.objects.filter(retired_at=None).order_by("ladder", "position", "code")
    found: dict[str, list[LadderStep]] = {}
    for row in rows.values_list("row", flat=True):
        step = step_from(row)
        for key in step.exercise_ids:
            found.setdefault(key, []).append(step)
    return {key: tuple(steps) for key, steps in found.items()}


def words_of(codes: Collection[str]) -> dict[str, str]:
    """What each step changes, in words, retired ones too; one query, for none as for many."""
    rows = models.LadderStep.objects.filter(pk__in={"", *codes}).values_list("code", "row__change")
    return dict(rows)
