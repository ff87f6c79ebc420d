"""What points at a client's card, in every app, found in the models themselves: no app is named here."""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any
from uuid import UUID

from django.apps import apps
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import RangeOperators
from django.db.models import BinaryField, Field, ForeignKey, Model, OneToOneField, Q

from clients import models
from clients.rules import merging as rules

# The history of cards itself stays as it was written; a file stays sealed where it lies, its letter points at it.
UNMOVED = (models.Client, models.Merge, models.StoredFile)
SEALED = "sealed_"
# What the desk is told of, by the name of the table; the rest moves without a word about health.
TOLD = {
    "scheduling.place": ("lesson", "lessons"),
    "programming.program": ("program", "programs"),
    "clients.healthform": ("health form", "health forms"),
    "clients.letter": ("letter", "letters"),
}


@dataclass(frozen=True)
class Pointer:
    """A column of some table that names a client."""

    model: type[Model]
    field: str

    @property
    def name(self) -> str:
        return f"{self.model._meta.label_lower}.{self.field}"

    def rows(self, client_id: UUID) -> Any:
        return self.model._default_manager.filter(**{self.field: client_id})


@dataclass(frozen=True)
class SealedColumns:
    """The sealed columns of a table, and the way from its rows to the client whose key they are sealed with."""

    model: type[Model]
    path: str
    columns: tuple[str, ...]

    def rows(self, client_id: UUID) -> Any:
        return self.model._default_manager.filter(**{self.path: client_id})


@dataclass(frozen=True)
class Overlap:
    """Two rows of a table that may not share an instant on one card, with their spans in UTC."""

    what: str
    kept: Any
    gone: Any


@cache
def pointers() -> tuple[Pointer, ...]:
    """Every column that names a client and moves with the card, in the order of apps and tables."""
    found = [
        Pointer(model, field.name)
        for model in apps.get_models()
        if model not in UNMOVED
        for field in model._meta.concrete_fields
        if isinstance(field, ForeignKey) and field.related_model is models.Client
    ]
    return tuple(sorted(found, key=lambda one: one.name))


@cache
def sealed_columns() -> tuple[SealedColumns, ...]:
    """Every table with a sealed column, but the history of cards and kept files."""
    found = []
    for model in apps.get_models():
        columns = tuple(one.name for one in model._meta.concrete_fields if _is_sealed(one))
        path = _path(model) if columns and model not in UNMOVED else ""
        if path:
            found.append(SealedColumns(model, path, columns))
    return tuple(sorted(found, key=lambda one: one.model._meta.label_lower))


def overlaps(kept_id: UUID, gone_id: UUID) -> list[Overlap]:
    """Pairs of rows that an exclusion constraint on the client would not let stand on one card."""
    found = []
    for pointer in pointers():
        for span, condition in _exclusions(pointer):
            mine = pointer.rows(kept_id).filter(condition or Q())
            for during in pointer.rows(gone_id).filter(condition or Q()).order_by(span).values_list(span, flat=True):
                other = mine.filter(**{f"{span}__overlap": during}).order_by(span).values_list(span, flat=True).first()
                if other is not None:
                    found.append(Overlap(str(pointer.model._meta.verbose_name), other, during))
    return found


def moving_counts(gone_id: UUID) -> list[str]:
    """What of the other card moves, in words for the desk: "3 lessons", "1 health form"; nothing is not told."""
    counts = {one.model._meta.label_lower: one.rows(gone_id).count() for one in pointers() if _is_told(one)}
    told = [(counts.get(name, 0), *words) for name, words in TOLD.items()]
    return [f"{count} {word if count == 1 else words}" for count, word, words in told if count]


def kept_card(client_id: UUID) -> UUID:
    """The card that stands for this one: itself, or the one that it was merged into, however often."""
    seen: set[UUID] = set()
    while client_id not in seen:
        seen.add(client_id)
        into = models.Client.objects.values_list("merged_into_id", flat=True).get(pk=client_id)
        client_id = into or client_id
    return client_id


@dataclass(frozen=True)
class MergeLine:
    """A merge that can be undone, on the card that was kept."""

    id: UUID
    gone_id: UUID
    gone_name: str
    merged_at: datetime
    merged_by: str


def merges_into(client_id: UUID) -> list[MergeLine]:
    """Open merges into this card, the newest first."""
    rows = models.Merge.objects.filter(kept=client_id, undone_at=None).select_related("gone", "merged_by")
    return [
        MergeLine(row.pk, row.gone_id, row.gone.name, row.merged_at, row.merged_by.name if row.merged_by else "")
        for row in rows.order_by("-merged_at")
    ]


def card_of_merge(merge_id: UUID) -> UUID:
    """The card that was kept. Raises Merge.DoesNotExist."""
    return models.Merge.objects.values_list("kept_id", flat=True).get(pk=merge_id)


def _is_told(pointer: Pointer) -> bool:
    return pointer.model._meta.label_lower in TOLD


def _is_sealed(field: "Field[Any, Any]") -> bool:
    return isinstance(field, BinaryField) and field.name.startswith(SEALED)


def _exclusions(pointer: Pointer) -> Iterator[tuple[str, Q | None]]:
    for one in pointer.model._meta.constraints:
        if not isinstance(one, ExclusionConstraint):
            continue
        by = {operator: _column(name) for name, operator in one.expressions}
        if by.get(RangeOperators.EQUAL) == pointer.field and RangeOperators.OVERLAPS in by:
            yield by[RangeOperators.OVERLAPS], one.condition


def _column(expression: object) -> str:
    """The name in an expression of a constraint, which Django keeps as `F(name)` once the model is made."""
    return str(getattr(expression, "name", expression))


def _path(model: type[Model]) -> str:
    """The shortest way over foreign keys from a table to the client, by name where two are as short; empty for none."""
    waiting: deque[tuple[type[Model], str]] = deque([(model, "")])
    seen = {model}
    while waiting:
        here, path = waiting.popleft()
        for field in sorted(_keys(here), key=lambda one: one.name):
            target = field.related_model
            if target is models.Client:
                return f"{path}{field.name}"
            if isinstance(target, type) and target not in seen and target not in UNMOVED:
                seen.add(target)
                waiting.append((target, f"{path}{field.name}__"))
    return ""


def _keys(model: type[Model]) -> "list[ForeignKey[Any, Any]]":
    return [one for one in model._meta.concrete_fields if isinstance(one, ForeignKey | OneToOneField)]


@dataclass(frozen=True)
class SideLine:
    """A field in which two cards differ, in words, and which side is proposed."""

    key: str
    word: str
    kept: str
    gone: str
    proposed: str
    may_keep_both: bool


@dataclass(frozen=True)
class SideBySide:
    """Two cards before they are merged. `consents` are kinds (key, word) that only one of them has open."""

    kept_id: UUID
    kept_name: str
    kept_since: datetime
    gone_id: UUID
    gone_name: str
    gone_since: datetime
    lines: tuple[SideLine, ...]
    counts: list[str]
    consents: list[tuple[str, str]]


def side_by_side(kept_id: UUID, gone_id: UUID) -> SideBySide:
    """Both cards, the first to be kept. Raises Client.DoesNotExist."""
    rows = models.Client.objects.select_related("contact", "home", "usual_instructor")
    kept, gone = rows.get(pk=kept_id), rows.get(pk=gone_id)
    columns = {name for field in rules.FIELDS for name in field.columns}
    mine, theirs = ({name: getattr(one, name) for name in columns} for one in (kept, gone))
    lines = tuple(
        SideLine(
            key=field.key,
            word=field.word,
            kept=_words(kept, field),
            gone=_words(gone, field),
            proposed=rules.usual_choice(field, mine, theirs).value,
            may_keep_both=field.key == "notes",
        )
        for field in rules.differing(mine, theirs)
    )
    return SideBySide(
        kept.pk,
        kept.name,
        kept.made_at,
        gone.pk,
        gone.name,
        gone.made_at,
        lines,
        moving_counts(gone_id),
        _open_on_one(kept_id, gone_id),
    )


def _words(client: models.Client, field: rules.CardField) -> str:
    """What stands on the card, as it is shown there; a photograph only says that there is one."""
    named = {"email": client.contact, "home": client.home, "usual": client.usual_instructor}
    if field.key in named:
        return str(named[field.key] or "")
    if field.key == "photograph":
        return "a photograph" if client.photograph_id else ""
    if field.key == "born_on":
        return f"{client.born_on.day} {client.born_on:%B %Y}" if client.born_on else ""
    return " ".join(str(getattr(client, name)) for name in field.columns if getattr(client, name))


def _open_on_one(kept_id: UUID, gone_id: UUID) -> list[tuple[str, str]]:
    rows = models.Consent.objects.filter(client__in=[kept_id, gone_id], withdrawn_at=None).values_list(
        "kind", flat=True
    )
    kinds = list(rows)
    return [(kind.value, kind.label) for kind in models.Consent.Kind if kinds.count(kind.value) == 1]
