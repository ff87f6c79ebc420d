"""Opening the run sheet: only for who cares for the client, and kept on record."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from programming.actions import fits
from programming.actions.logs import check_care
from programming.queries import programs as program_queries
from programming.queries import sheets
from scheduling import queries as scheduling_queries
from studio.actions import audit
from studio.models import Person


def open_sheet(place_id: UUID, *, by: Person, now: datetime, line_id: UUID | None = None) -> sheets.RunSheet:
    """The run sheet of a place, showing `line_id` or the first line without a mark.

    Raises Place.DoesNotExist, and Refused for somebody who does not care for the client.
    """
    with transaction.atomic():
        place = scheduling_queries.place_facts(place_id)
        check_care(place.client_id, by=by, now=now)
        log = sheets.log_row(place_id)
        row = program_queries.loaded(log.program_id) if log else program_queries.loaded_for_place(place_id)
        if row is None:
            return sheets.nothing_planned(place)
        audit.read("open_sheet", row, by=by, now=now, client_key=row.client_id, why="care")
        program = program_queries.view(row, fits.opened(row))
        return sheets.run_sheet(place, program, log, now=now, line_id=line_id)
