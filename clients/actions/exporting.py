"""A client's whole record taken out: every table with a path to her, sealed columns opened, and her files."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.backends.postgresql.psycopg_any import Range
from django.db.models import BinaryField, Field, ForeignKey, Model

from clients import models, queries
from clients.actions import files as kept_files
from clients.actions import seals
from clients.queries import rights as held
from clients.rules import record as telling
from clients.rules import rights as rules
from clients.rules.files import ENDINGS
from clients.rules.reference import Rulebook
from clients.rules.sealing import SealBroken
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused, Role

# What opens something or only finds it again; it tells nothing of the client.
LEFT_OUT = {"wrapped_key", "token_digest", "mark", "name_key"}


@dataclass(frozen=True)
class Exported:
    """`record` is plain JSON; `told` the same as sections for paper: title and, for each row, label and words.

    `files` are name and content.
    """

    client_id: UUID
    record: dict[str, Any]
    told: list[tuple[str, list[list[tuple[str, str]]]]]
    files: list[tuple[str, bytes]]


def export_client(client_id: UUID, *, why: str, by: studio_models.Person, now: datetime) -> Exported:
    """Everything the house holds of a client, the cards merged into hers included; who asked and why is on record.

    Raises Client.DoesNotExist, SealBroken, and Refused (`not_open`, `merged`, `erased`, `missing`, `too_long`,
    `names_her`).
    """
    if not by.has_role(Role.OWNER):
        raise Refused(Reason("not_open", "Only the owner takes out a record."))
    with transaction.atomic():
        client = models.Client.objects.get(pk=client_id)
        if reasons := _refusals(client, why):
            raise Refused(reasons)
        audit.read("export_client", client, by=by, now=now, client_key=client.pk, why=" ".join(why.split()))
        cards = {card.pk: card for card in models.Client.objects.filter(pk__in=held.cards_of(client_id))}
        record = _record(cards, by, now)
        return Exported(client_id, record, _told(record), list(_files(cards)))


def _refusals(client: models.Client, why: str) -> list[Reason]:
    if client.erased_at:
        return [Reason("erased", "This client's record was erased. There is nothing left to take out.")]
    if client.merged_into_id:
        return [Reason("merged", "This card was merged into another one.", allowed="the card that was kept")]
    return rules.why_refusals(why, client.name)


def _record(cards: dict[UUID, models.Client], by: studio_models.Person, now: datetime) -> dict[str, Any]:
    tables = {"clients.client": [_row(card, cards) for card in cards.values()]}
    for table in held.tables():
        tables[table.label] = [_row(row, cards) for row in table.rows(list(cards)).order_by("pk")]
    return {
        "made_at": now.isoformat(),
        "made_by": by.name,
        "left_out": sorted(LEFT_OUT),
        "tables": tables,
        "contacts": [_row(one, cards) for one in _contacts(cards)],
        "notices": [_row(one, cards) for one in _notices(cards)],
        "audit": [
            _row(one, cards) for one in studio_models.AuditEntry.objects.filter(client_key__in=cards).order_by("pk")
        ],
    }


def _contacts(cards: dict[UUID, models.Client]) -> Iterator[Model]:
    yield from studio_models.Contact.objects.filter(clients__in=cards).distinct()


def _notices(cards: dict[UUID, models.Client]) -> Iterator[Model]:
    yield from studio_models.Notice.objects.filter(contact__clients__in=cards).distinct().order_by("made_at")


def _row(row: Model, cards: dict[UUID, models.Client]) -> dict[str, Any]:
    """The columns of a row by name, sealed ones opened under the name of what they hold."""
    found: dict[str, Any] = {}
    for column in row._meta.concrete_fields:
        if column.name in LEFT_OUT:
            continue
        if isinstance(column, BinaryField):
            found[column.name.removeprefix(held.SEALED)] = _opened(row, column.name, cards)
        else:
            found[column.name] = _plain(row, column)
    return found


def _opened(row: Model, column: str, cards: dict[UUID, models.Client]) -> Any:
    """The words of a sealed cell. A row of two cards is sealed for one of them."""
    if not getattr(row, column):
        return None
    broken = SealBroken(f"{row._meta.label_lower} {row.pk} is sealed for none of these cards")
    for card in cards.values():
        if seals.is_sealed_for(card, getattr(row, column)):
            return seals.opened(row, column, client=card)
    raise broken


def _plain(row: Model, column: "Field[Any, Any]") -> Any:
    value = getattr(row, column.attname)
    if value is None or isinstance(value, bool | int | float | str | list | dict):
        return _named(row, column) if isinstance(column, ForeignKey) and value is not None else value
    if isinstance(value, Range):
        return {"from": value.lower.isoformat(), "until": value.upper.isoformat()}
    if isinstance(value, datetime | date):
        return value.isoformat()
    return str(value)


def _named(row: Model, column: "Field[Any, Any]") -> Any:
    """Who it was, for a column that points at somebody who works here."""
    value = getattr(row, column.attname)
    return getattr(row, column.name).name if column.related_model is studio_models.Person else value


def _files(cards: dict[UUID, models.Client]) -> Iterator[tuple[str, bytes]]:
    for file in models.StoredFile.objects.filter(client__in=cards, removed_at=None).order_by("made_at"):
        blob = kept_files.path_of(file.pk).read_bytes()
        content = seals.opened_file(blob, row=file, client=cards[file.client_id])
        yield (
            f"files/{file.kind}-{file.made_at:%Y-%m-%d}-{file.page}-{str(file.pk)[:8]}.{ENDINGS[file.media_type]}",
            content,
        )


def _told(record: dict[str, Any]) -> list[tuple[str, list[list[tuple[str, str]]]]]:
    """The tables in words, those without a row left out."""
    book = queries.rules_in_force().rulebook if queries.has_rules() else None
    words = _words(book) | held.names_pointed_at(record["tables"])
    sections = []
    for holding in sorted(rules.HOLDINGS, key=lambda one: one.table != "clients.client"):
        if rows := record["tables"].get(holding.table):
            sections.append((holding.what.capitalize(), [list(telling.lines(row, words)) for row in rows]))
    looks = [
        [(entry["at"][:16].replace("T", " "), _look(entry))] for entry in record["audit"] if entry["kind"] == "read"
    ]
    return [*sections, ("Who looked", looks)] if looks else sections


def _look(entry: dict[str, Any]) -> str:
    who = entry["person"] or entry["actor"]
    what = held.VERBS.get(entry["verb"], entry["verb"].replace("_", " "))
    return f"{who}: {what}" + (f" ({entry['why']})" if entry["why"] else "")


def _words(book: Rulebook | None) -> dict[str, str]:
    """What the keys of conditions, demands, questions and signs are called."""
    if book is None:
        return {}
    found = {key: one.name for table in (book.conditions, book.demands) for key, one in table.items()}
    found |= {key: one.topic for key, one in book.questions.items()}
    return found | {key: one.question for table in (book.red_flags, book.symptoms) for key, one in table.items()}
