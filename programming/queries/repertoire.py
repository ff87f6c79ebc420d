"""The studio's repertoire and time model as the rules read them."""

from collections.abc import Collection
from dataclasses import dataclass

from clients.models import Demand, Source
from programming import models
from programming.rules.repertoire import ExerciseRow, exercise_from
from programming.rules.timing import Times, times_from


@dataclass(frozen=True)
class Ladder:
    """What stands beside a line at the machine: a fault with the words for it, and one step down. Empty where none."""

    when_seen: str = ""
    cue: str = ""
    easier: str = ""


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
    """(exercise, template) for each of these exercises that a template in use or proposed plans; one query.

    A draft is still being written: it is told there that a row is practised no more.
    """
    lines = models.TemplateLine.objects.filter(exercise_id__in=set(ids), template__state__in=("active", "proposed"))
    return sorted(set(lines.values_list("exercise_id", "template__name")))


def times() -> Times:
    return times_from(models.RepertoireTable.objects.get(name="session_time").rows)


def ladders(ids: Collection[str]) -> dict[str, Ladder]:
    """The ladder beside each exercise; one query. An easier step that brings in a demand or another row is left out."""
    steps = models.LadderStep.objects.filter(
        exercises__in=set(ids), kind__in=("fault_cue", "regression"), retired_at=None
    )
    found: dict[str, Ladder] = {}
    for key, kind, row in steps.order_by("position").values_list("exercises__id", "kind", "row"):
        ladder = found.get(key, Ladder())
        if kind == "fault_cue" and not ladder.cue:
            found[key] = Ladder(row["when_seen"], row["change"], ladder.easier)
        elif kind == "regression" and not (ladder.easier or row["adds"] or row["substitutes_row"]):
            found[key] = Ladder(ladder.when_seen, ladder.cue, row["change"])
    return found


def table(name: str) -> list[dict[str, str]]:
    """The rows of a small table of the reference; one query."""
    rows: list[dict[str, str]] = models.RepertoireTable.objects.get(name=name).rows
    return rows


def other_tables() -> dict[str, list[dict[str, str]]]:
    """What the checks of the repertoire look things up in, beside its rows and steps; three queries."""
    found = dict(models.RepertoireTable.objects.values_list("name", "rows"))
    found["demands"] = [{"code": code} for code in Demand.objects.values_list("code", flat=True)]
    found["sources"] = [{"id": key} for key in Source.objects.values_list("id", flat=True)]
    return found


def names() -> dict[str, str]:
    """The name of each exercise by id and of each demand by code, retired ones too; two queries."""
    rows = models.Exercise.objects.only("id", "name", "part")
    return {row.pk: str(row) for row in rows} | dict(Demand.objects.values_list("code", "name"))
