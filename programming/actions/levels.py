"""A teacher signs how far a client may go on one kind of apparatus; `clients` keeps it, for booking and fitting."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients import actions as client_actions
from clients import queries as clients_queries
from clients.actions import health as health_actions
from clients.models import LevelCeiling
from clients.rules.limits import levels_of
from clients.rules.outcomes import Level
from programming.queries import histories as history_queries
from programming.queries import repertoire, teachers
from programming.rules import levels as rules
from programming.rules.validation.people import UNSIGNED_LEVEL
from studio.actions import audit
from studio.models import Person
from studio.rules import ApparatusKind, Refused


def sign_level(
    client_id: UUID,
    *,
    kind: ApparatusKind,
    level: int,
    by: Person,
    now: datetime,
    flows: bool = False,
    reason: str = "",
    why: str = "",
) -> LevelCeiling:
    """Sign a level; up only when four of five rows of the level below are clean and the series flows, or for a reason.

    `flows`: the series was seen with its transitions. The reason is kept with the teacher's name and not sealed.
    Raises Refused, also as reading health does: her limits say which rows count.
    """
    with transaction.atomic():
        limits = health_actions.read_limits(client_id, by=by, now=now, why=why)
        avoided = {demand for demand, word in levels_of(limits).items() if word is Level.AVOID}
        before = clients_queries.ceilings([client_id])[client_id].get(kind, UNSIGNED_LEVEL)
        scores = history_queries.last_scores(history_queries.histories(client_id))
        rows = repertoire.exercises().values()
        found = rules.check(kind, before, rows, scores, avoided=avoided)
        asked = rules.Signing(level, flows, " ".join(reason.split()), teachers.levels_of(by.pk).get(kind, 0))
        if reasons := rules.signing_refusals(asked, found):
            raise Refused(reasons)
        signed = client_actions.sign_level(client_id, kind=kind, level=level, by=by, now=now)
        detail = {"from": before, "to": level, "clean": found.clean, "of": found.open_rows, "flows": flows}
        audit.wrote("level_signed", signed, by=by, now=now, client_key=client_id, why=asked.reason, detail=detail)
    return signed
