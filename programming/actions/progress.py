"""Opening a client's progress: only for who may read her health, and kept on record."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients import queries as clients_queries
from clients.actions import health as health_actions
from clients.actions import reading, seals
from clients.models import Client
from clients.rules.limits import levels_of
from clients.rules.outcomes import Level
from programming import models
from programming.actions import telling
from programming.queries import exercise_history, load, plan, progress, teachers
from studio.actions import audit
from studio.models import Person


@dataclass(frozen=True)
class _Opened:
    """A client that may be read now, and the reason to record."""

    client: Client
    why: str


def open_progress(client_id: UUID, *, by: Person, now: datetime, why: str = "") -> progress.ProgressView:
    """Standings, proposals with what was felt, decisions and levels. Raises Refused as reading health does."""
    with transaction.atomic():
        opened = _open(client_id, "open_progress", by=by, now=now, why=why)
        limits = health_actions.read_limits(client_id, by=by, now=now, why=opened.why)
        avoided = frozenset(demand for demand, word in levels_of(limits).items() if word is Level.AVOID)
        reader = progress.Reader(clients_queries.day_of(now, opened.client), avoided, teachers.levels_of(by.pk))
        found = progress.facts(client_id)
        felts = telling.felts(found.felt_lines, opened.client)
        return progress.view(clients_queries.card(client_id), found, felts, reader)


def open_exercise(
    client_id: UUID, exercise_id: str, *, by: Person, now: datetime, why: str = ""
) -> exercise_history.ExerciseHistory:
    """Every lesson of one exercise with what was felt, and the grants with their reasons, opened.

    Raises Exercise.DoesNotExist, and Refused as reading health does.
    """
    with transaction.atomic():
        exercise = models.Exercise.objects.get(pk=exercise_id)
        opened = _open(client_id, "open_exercise", by=by, now=now, why=why)
        lines = models.LogLine.objects.filter(log__program__client_id=client_id, program_line__exercise=exercise)
        felts = telling.felts(lines.values_list("pk", flat=True), opened.client)
        grants = models.Grant.objects.filter(client_id=client_id, exercise=exercise, sealed_reason__isnull=False)
        reasons = {row.pk: str(seals.opened(row, "sealed_reason", client=opened.client)) for row in grants}
        reader = progress.Reader(clients_queries.day_of(now, opened.client), frozenset(), teachers.levels_of(by.pk))
        return exercise_history.history(
            clients_queries.card(client_id), exercise, felts=felts, reasons=reasons, reader=reader
        )


def open_plan(client_id: UUID, *, by: Person, now: datetime, back: int = 0, why: str = "") -> plan.PlanView:
    """The plan over weeks, `back` pages of weeks ago. Raises Refused as reading health does."""
    with transaction.atomic():
        opened = _open(client_id, "open_plan", by=by, now=now, why=why)
        today = clients_queries.day_of(now, opened.client)
        return plan.plan_view(clients_queries.card(client_id), today=today, now=now, back=back)


def open_load(client_id: UUID, *, by: Person, now: datetime, why: str = "") -> load.LoadView:
    """The load of the last weeks. Raises Refused as reading health does."""
    with transaction.atomic():
        opened = _open(client_id, "open_load", by=by, now=now, why=why)
        return load.load_view(clients_queries.card(client_id), today=clients_queries.day_of(now, opened.client))


def _open(client_id: UUID, verb: str, *, by: Person, now: datetime, why: str) -> _Opened:
    client = Client.objects.select_related("home").get(pk=client_id)
    why = reading.allowed(client, by=by, now=now, why=why)
    audit.read(verb, client, by=by, now=now, client_key=client_id, why=why)
    return _Opened(client, why)
