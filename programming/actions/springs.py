"""What springs ask of a client, read with her body opened; and what they pulled, handed down when a log is finished."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime
from uuid import UUID

from django.db import transaction

from programming import models
from programming.actions import bodies
from programming.queries import springs as spring_reads
from programming.queries import work as work_queries
from programming.queries.programs import rows_of
from programming.rules.marks import Mark
from programming.rules.repertoire import SpringEffect
from programming.rules.travel import legs_of
from programming.rules.work import USUAL_STROKE_M
from scheduling import queries as scheduling_queries
from scheduling.actions import springs as spring_actions
from scheduling.queries import springs as spring_queries
from scheduling.rules.springs import hooked, mean_force
from scheduling.rules.wear import Strokes, together
from studio.actions import audit
from studio.models import Person


def read_work(
    program_id: UUID, *, by: Person, now: datetime, why: str = "", wanted: work_queries.Wanted | None = None
) -> work_queries.WorkSheet:
    """Force, travel and work of a program's lines for its client; the reading of her body is kept on record.

    Raises Program.DoesNotExist, and Refused when the reader may not see what is noted of her, or for a line that hooks
    no springs.
    """
    with transaction.atomic():
        row = work_queries.program_row(program_id)
        body = bodies.read_body(row.client_id, by=by, now=now, why=why)
        audit.read("read_work", row, by=by, now=now, client_key=row.client_id, why=why or "care")
        sizes = spring_reads.sizes()
        legs = legs_of(sizes, stature_mm=body.stature_mm, leg_mm=body.leg_mm, sex=body.sex)
        return work_queries.sheet(row, legs, wanted or work_queries.Wanted(), leg_on=body.leg_on)


def hand_over_use(log: models.Log) -> None:
    """Tell each spring of the machine what it pulled in a finished log: strokes outward, at the usual stroke of 40 cm.

    The client's own travel is not used: nothing of a body goes down to a machine. Springs that only held still made no
    stroke, and rows of another apparatus were not done on this machine. To be called where the log is finished.
    """
    place = scheduling_queries.place_facts(log.place_id)
    pulled: dict[int, list[Strokes]] = defaultdict(list)
    for spring_id, one in _pulled(log, place):
        pulled[spring_id].append(one)
    strokes = {spring_id: together(some) for spring_id, some in pulled.items()}
    spring_actions.count_use(log.pk, on=place.day, strokes=strokes)


def take_back_use(log: models.Log) -> None:
    """The log is open again: what it told the springs is taken back until it is finished anew."""
    spring_actions.take_back_use(log.pk)


def _pulled(log: models.Log, place: scheduling_queries.PlaceFacts) -> Iterator[tuple[int, Strokes]]:
    hung = spring_queries.springs_at(place.apparatus_id, on=place.day)
    marked = list(log.lines.exclude(mark=Mark.SKIPPED.value).exclude(spring_set="").select_related("program_line"))
    rows = rows_of([one.program_line for one in marked])
    for one in marked:
        row = rows[one.program_line.position].taught
        if row.apparatus is not place.kind or row.spring_effect is SpringEffect.FIX:
            continue
        reps = one.program_line.reps if one.reps is None else one.reps
        for spring_id, fact in hooked(hung, one.spring_set).items():
            yield spring_id, Strokes(reps * row.side_factor, mean_force([fact], 0.0, USUAL_STROKE_M))
