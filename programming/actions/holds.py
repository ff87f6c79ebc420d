"""Handing what a program needs of shared things to scheduling: boxes, poles, bars, chairs by the quarter hour."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from programming import models
from programming.queries import repertoire as repertoire_queries
from programming.rules.shared import Use, items_of, wants
from scheduling.actions import items as item_actions
from scheduling.models import Place
from scheduling.queries import items as item_queries
from scheduling.queries.house import range_of
from studio.models import Person
from studio.rules import ApparatusKind


def hold_for(
    program: models.Program, lines: Sequence[models.ProgramLine], *, by: Person | None, now: datetime
) -> tuple[item_actions.Unheld, ...]:
    """Hold for the program's place what its lines need, in place of what its last program held; what could not be.

    Nothing is asked for a program without a place, or in a studio that shares nothing.
    """
    if program.place_id is None:
        return ()
    place = Place.objects.select_related("lesson", "apparatus").get(pk=program.place_id)
    if not item_queries.shares_anything(place.lesson.studio_id):
        return ()
    found = wants(_uses(lines, ApparatusKind(place.apparatus.kind)), range_of(place.during))
    return item_actions.hold_for_program({place.pk: [(want.kind, want.span) for want in found]}, by=by, now=now)


def let_go_of(place_ids: Sequence[UUID], *, by: Person | None, now: datetime) -> None:
    """These places hold nothing for a program any more."""
    item_actions.hold_for_program(dict.fromkeys(place_ids, ()), by=by, now=now)


def _uses(lines: Sequence[models.ProgramLine], own: ApparatusKind) -> list[Use]:
    rows = repertoire_queries.known_exercises({line.exercise_id for line in lines if line.exercise_id})
    begins, found = repertoire_queries.times().arrival, []
    for line in sorted(lines, key=lambda line: line.position):
        row = rows[line.exercise_id] if line.exercise_id else None
        if row:
            found += [Use(kind, begins, line.seconds) for kind in items_of(row.setup, row.apparatus, own)]
        begins += line.seconds
    return found
