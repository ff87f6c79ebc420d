"""What the house holds of one client, found in the models themselves; and who looked at it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.apps import apps
from django.core.paginator import Page, Paginator
from django.db.models import BinaryField, CharField, ForeignKey, Model, Q

from clients import models
from clients.rules import rights as rules
from studio import models as studio_models

SEALED = "sealed_"
ROWS_A_PAGE = 50
# Words for what was done when health was opened; others are shown as they are.
VERBS = {
    "read_brief": "opened the health page",
    "read_limits": "opened the limits",
    "read_note": "opened a lesson note",
    "open_sheet": "opened the run sheet",
    "open_progress": "opened the progress page",
    "open_exercise": "opened the history of an exercise",
    "open_plan": "opened the plan over weeks",
    "open_load": "opened the load of the weeks",
    "read_felt": "opened what was felt at a line",
    "read_felts": "opened what was felt, to decide what comes next",
    "take_out_log": "took out the log as a file",
    "print_lesson_card": "printed a lesson card",
    "print_home_card": "made a home card",
    "export_client": "took out the whole record",
    "screen_again": "the rules looked anew",
}


@dataclass(frozen=True)
class Table:
    """A table with paths to the client over foreign keys; more than one where it points at two cards."""

    model: type[Model]
    paths: tuple[str, ...]

    @property
    def label(self) -> str:
        return self.model._meta.label_lower

    @property
    def sealed(self) -> "tuple[BinaryField[Any, Any], ...]":
        """The columns sealed with the client's key."""
        return tuple(
            one
            for one in self.model._meta.concrete_fields
            if isinstance(one, BinaryField) and one.name.startswith(SEALED)
        )

    def rows(self, client_ids: list[UUID]) -> Any:
        reached = Q()
        for path in self.paths:
            reached |= Q(**{f"{path}__in": client_ids})
        return self.model._base_manager.filter(reached)


@dataclass(frozen=True)
class Held:
    """How many rows of a table are a client's, and what erasing does to them."""

    holding: rules.Holding
    count: int


@dataclass(frozen=True)
class Look:
    """Somebody, or the house itself, opened something of a client's."""

    at: datetime
    who: str
    what: str
    why: str


@cache
def tables() -> tuple[Table, ...]:
    """Every table with a path to the client but the card itself, those nearest first."""
    paths: dict[type[Model], tuple[str, ...]] = {}
    waiting = [model for model in apps.get_models() if model is not models.Client]
    while True:
        found = {model: path for model in waiting if (path := tuple(_paths(model, paths)))}
        if not found:
            return tuple(Table(model, path) for model, path in paths.items())
        paths |= found
        waiting = [model for model in waiting if model not in found]


def _paths(model: type[Model], known: dict[type[Model], tuple[str, ...]]) -> Iterator[str]:
    keys = [one for one in model._meta.concrete_fields if isinstance(one, ForeignKey)]
    direct = [one.name for one in keys if one.related_model is models.Client]
    over = (f"{one.name}__{known[one.related_model][0]}" for one in keys if one.related_model in known)
    yield from direct or list(over)[:1]


def names_pointed_at(rows: dict[str, list[dict[str, Any]]]) -> dict[str, str]:
    """What rows that are pointed at by a key in letters (an exercise) are called; `rows` by table, columns by name."""
    found: dict[str, str] = {}
    for table in tables():
        for column in table.model._meta.concrete_fields:
            target = column.related_model
            if isinstance(column, ForeignKey) and target and isinstance(target._meta.pk, CharField):
                keys = {row[column.name] for row in rows[table.label] if row[column.name]}
                found |= {str(key): str(one) for key, one in target._base_manager.in_bulk(keys).items()}
    return found


def cards_of(client_id: UUID) -> list[UUID]:
    """The card and every card that was merged into it, however often, the card first."""
    found = [client_id]
    for known in found:
        found += models.Client.objects.filter(merged_into=known).values_list("pk", flat=True)
    return found


def held(client_id: UUID) -> list[Held]:
    """What there is of a client, in the order of the rules' list; tables without a row are left out."""
    cards = cards_of(client_id)
    counts = {table.label: table.rows(cards).count() for table in tables()} | {"clients.client": len(cards)}
    rows = [Held(holding, counts.get(holding.table, 0)) for holding in rules.HOLDINGS]
    return [row for row in rows if row.count]


def still_booked(client_ids: list[UUID], *, now: datetime) -> list[str]:
    """Lessons ahead that hold a machine for her, in words by the clock of their studio, the next first."""
    place = apps.get_model("scheduling", "Place")
    ahead = place._default_manager.filter(client__in=client_ids, live=True, during__endswith__gt=now)
    ahead = ahead.filter(state__in=["booked", "here"]).select_related("lesson__studio").order_by("during")
    return [_lesson(row.during.lower.astimezone(ZoneInfo(row.lesson.studio.time_zone))) for row in ahead[:10]]


def _lesson(starts: datetime) -> str:
    return f"{starts:%A} {starts.day} {starts:%B} at {starts:%H:%M}"


def looks(client_id: UUID, *, page: str = "1") -> "Page[studio_models.AuditEntry]":
    """The openings of a client's sealed words, the newest first, with who it was; see `look`."""
    entries = studio_models.AuditEntry.objects.filter(client_key__in=cards_of(client_id), kind="read")
    entries = entries.select_related("person").order_by("-at", "-pk")
    return Paginator(entries, ROWS_A_PAGE).get_page(page)


def look(entry: studio_models.AuditEntry) -> Look:
    """An entry in words."""
    who = entry.person.name if entry.person else entry.actor or "the house itself"
    return Look(entry.at, who, VERBS.get(entry.verb, entry.verb.replace("_", " ")), entry.why)
