"""The look of the night over programs: which are not any more as they were fitted for. Nothing is fitted by itself."""

import logging
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from clients.models import Client
from clients.rules.sealing import SealBroken
from programming import models
from programming.actions import facts as fact_actions
from programming.actions import fits, fitted, programs
from programming.queries import machines as machine_queries
from programming.queries import programs as program_queries

log = logging.getLogger(__name__)
WHY = "the look of the night over programs"
# Programs for lessons further ahead are looked at when they come nearer.
AHEAD = timedelta(days=14)


def compare_programs(*, now: datetime) -> int:
    """Note since when programs of coming lessons are not as they were fitted for; how many changed their word.

    Each in a transaction of its own; safe to repeat and to run twice at once. A client whose sealed words do not open
    is left as it stood.
    """
    return sum(_compare(program_id, now) for program_id in _to_look_at(now))


def _to_look_at(now: datetime) -> list[UUID]:
    return list(_coming(now).order_by("place__during", "pk").values_list("pk", flat=True))


def _coming(now: datetime) -> QuerySet[models.Program]:
    """Programs in force of places that are held and not begun; a standing program is compared when it is opened."""
    rows = models.Program.objects.filter(replaced_at=None, place__live=True, logs=None, client__archived_at=None)
    return rows.filter(place__during__endswith__gt=now, place__during__startswith__lt=now + AHEAD)


def _compare(program_id: UUID, now: datetime) -> bool:
    try:
        with transaction.atomic():
            client_id = program_queries.client_of(program_id)
            held = Client.objects.select_for_update(of=("self",), no_key=True, skip_locked=True).filter(pk=client_id)
            if not held.exists():
                return False
            row = program_queries.loaded(program_id)
            return _note(row, bool(_differs(row, now)), now)
    except SealBroken:
        log.error("sealed words of program %s do not open", program_id)
        return False


def _differs(row: models.Program, now: datetime) -> tuple[str, ...]:
    apparatus_id, minutes = programs.meant_for(row)
    facts = fact_actions.gathered(row.client_id, day=programs.day_of(row.place_id), by=None, now=now, why=WHY)
    return tuple(fitted.differs(row, fits.opened(row), facts, machine_queries.machine(apparatus_id), minutes))


def _note(row: models.Program, differs: bool, now: datetime) -> bool:
    if differs == (row.differs_since is not None):
        return False
    row.differs_since = now if differs else None
    row.save(update_fields=["differs_since"])
    return True
