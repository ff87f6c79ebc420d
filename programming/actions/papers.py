"""What leaves the screen: a lesson card, a home card, a log as a file. Each is kept on record with who made it."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients import queries as clients_queries
from clients.actions import health as health_actions
from clients.actions import reading, seals
from clients.models import Client
from clients.rules.limits import levels_of
from programming.actions import telling
from programming.actions.programs import OpenProgram, open_program
from programming.queries import histories as history_queries
from programming.queries import log_file, progress
from programming.queries import programs as program_queries
from programming.rules import papers as rules
from programming.rules.papers import HomeRow
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused


@dataclass(frozen=True)
class HomeChoices:
    """What a client may take home."""

    client_id: UUID
    client_name: str
    rows: tuple[HomeRow, ...]


def open_lesson_card(program_id: UUID, *, by: Person, now: datetime, why: str = "") -> OpenProgram:
    """A program to be printed. Raises Program.DoesNotExist, and Refused as opening it does."""
    with transaction.atomic():
        opened = open_program(program_id, by=by, now=now, why=why)
        row = program_queries.loaded(program_id)
        audit.read("print_lesson_card", row, by=by, now=now, client_key=row.client_id, why=why or "care")
    return opened


def home_choices(client_id: UUID, *, by: Person, now: datetime, why: str = "") -> HomeChoices:
    """The exercises that may go home with today's limits. Raises Refused as reading health does."""
    with transaction.atomic():
        client = Client.objects.select_related("home").get(pk=client_id)
        levels = levels_of(health_actions.read_limits(client_id, by=by, now=now, why=why))
        found = progress.facts(client_id)
        practices = history_queries.practices(found.lines)
        on = clients_queries.day_of(now, client)
        standings = {row.exercise_id: row.standing for row in progress.stand_rows(practices, found, on=on)}
        return HomeChoices(client_id, client.name, rules.home_rows(found.rows.values(), standings, levels))


def make_home_card(
    client_id: UUID, *, exercise_ids: list[str], by: Person, now: datetime, why: str = ""
) -> HomeChoices:
    """The chosen rows in the order of the repertoire. Raises Refused for what may not go home, or too many."""
    with transaction.atomic():
        offered = home_choices(client_id, by=by, now=now, why=why)
        if rules.unknown(exercise_ids, offered.rows):
            says = "One of these may not go home, with the limits of today."
            raise Refused(Reason("not_at_home", says, "rows", "one of those that are listed"))
        if len(exercise_ids) > rules.MOST_AT_HOME:
            says = f"A home card holds {rules.MOST_AT_HOME} exercises."
            raise Refused(Reason("too_many", says, "rows", f"at most {rules.MOST_AT_HOME}"))
        client = Client.objects.get(pk=client_id)
        audit.read("print_home_card", client, by=by, now=now, client_key=client_id, why=why or "care")
        chosen = tuple(row for row in offered.rows if row.exercise_id in exercise_ids)
        return HomeChoices(client_id, offered.client_name, chosen)


def take_out_log(client_id: UUID, *, by: Person, now: datetime, why: str = "") -> str:
    """The finished logs of a client as a CSV file, with what was felt and noted opened.

    The reading is kept on record. Raises Refused as reading health does.
    """
    with transaction.atomic():
        client = Client.objects.select_related("home").get(pk=client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        audit.read("take_out_log", client, by=by, now=now, client_key=client_id, why=why)
        logs = log_file.finished_logs(client_id)
        lines = [line for log in logs for line in log.lines.all()]
        words = log_file.Words(
            felts={line.pk: telling.opened(line, client) for line in lines if line.sealed_felt},
            line_notes={
                line.pk: seals.opened(line, "sealed_note", client=client) for line in lines if line.sealed_note
            },
            lesson_notes={log.pk: seals.opened(log, "sealed_note", client=client) for log in logs if log.sealed_note},
        )
        return rules.table_file(log_file.HEADER, log_file.log_rows(logs, words))
