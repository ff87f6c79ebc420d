"""Shared items as people read them: what a studio shares, who holds what today, what a lesson may still use."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Count, Q

from scheduling import models
from scheduling.queries.house import houses, range_of
from scheduling.rules.items import HoldSource, ItemKind, quarters_of
from scheduling.rules.places import HOLDING
from studio.rules import Span, zones


@dataclass(frozen=True)
class ItemRow:
    """One item of the set-up list. `away_since` is set once it is put away; `ahead` counts holds to come."""

    id: int
    kind: ItemKind
    label: str
    studio: str
    away_since: date | None
    ahead: int


@dataclass(frozen=True)
class HoldRow:
    """One hold in wall time. `is_live` is false when a move found nothing of its kind free."""

    id: int
    place_id: UUID
    item: str
    kind: ItemKind
    starts: datetime
    ends: datetime
    is_live: bool
    by_program: bool
    client: str
    machine: str


@dataclass(frozen=True)
class ItemDay:
    """One item on one day with its holds, in order of time."""

    label: str
    kind: ItemKind
    holds: tuple[HoldRow, ...]


@dataclass(frozen=True)
class Quarters:
    """What may be held for a place: items by key, and the quarter hours of its lesson with their wall times."""

    items: tuple[tuple[int, str], ...]
    spans: tuple[Span, ...]
    starts: tuple[str, ...]
    ends: tuple[str, ...]


HOLD = (
    "pk",
    "place_id",
    "item__label",
    "item__kind",
    "during",
    "live",
    "source",
    "place__client__name",
    "place__apparatus__label",
    "item__studio__time_zone",
)


def shared_items(*, now: datetime) -> list[ItemRow]:
    """Everything that is or was shared, by studio, kind and label. One query."""
    rows = models.Item.objects.filter(studio__closed_on=None).annotate(
        ahead=Count("holds", filter=Q(holds__live=True, holds__during__endswith__gt=now))
    )
    fields = ("pk", "kind", "label", "studio__name", "in_service_to", "ahead")
    rows = rows.order_by("studio__position", "in_service_to", "kind", "label")
    return [
        ItemRow(key, ItemKind(kind), label, studio, away, ahead)
        for key, kind, label, studio, away, ahead in rows.values_list(*fields)
    ]


def holds_of(place_ids: Iterable[UUID]) -> list[HoldRow]:
    """What these places hold, and what they could not take along. One query."""
    rows = models.ItemHold.objects.filter(place__in=list(place_ids), place__state__in=HOLDING, place__live=True)
    return [_hold(*row) for row in rows.order_by("during", "pk").values_list(*HOLD)]


def items_of_day(studio_id: int, day: date) -> list[ItemDay]:
    """Every item a studio shares with who has it when on a local day. Three queries."""
    zone = next(house.zone for house in houses() if house.id == studio_id)
    span = zones.day_span(day, zone)
    items = models.Item.objects.filter(studio=studio_id, in_service_to=None).order_by("kind", "label")
    holds: dict[int, list[HoldRow]] = {}
    rows = models.ItemHold.objects.filter(item__studio=studio_id, live=True, during__overlap=(span.start, span.end))
    for item, *row in rows.order_by("during").values_list("item_id", *HOLD):
        holds.setdefault(item, []).append(_hold(*row))
    return [ItemDay(item.label, ItemKind(item.kind), tuple(holds.get(item.pk, ()))) for item in items]


def quarters(place_id: UUID) -> Quarters:
    """What the form of a place's holds offers. Two queries; raises Place.DoesNotExist."""
    place = models.Place.objects.select_related("lesson__studio").get(pk=place_id)
    zone = ZoneInfo(place.lesson.studio.time_zone)
    items = models.Item.objects.filter(studio=place.lesson.studio_id, in_service_to=None).order_by("kind", "label")
    spans = quarters_of(range_of(place.during))
    return Quarters(
        tuple(items.values_list("pk", "label")),
        spans,
        tuple(f"{span.start.astimezone(zone):%H:%M}" for span in spans),
        tuple(f"{span.end.astimezone(zone):%H:%M}" for span in spans),
    )


def stock(lesson_id: UUID) -> dict[str, int]:
    """How many of each shared kind a lesson may count on, from its first quarter hour to its last.

    What its own places hold counts as free; what anybody else holds at any time of it does not. Kinds of which the
    studio shares nothing are not named.
    """
    lesson = models.Lesson.objects.get(pk=lesson_id)
    spans = quarters_of(range_of(lesson.during))
    others = models.ItemHold.objects.filter(live=True, during__overlap=(spans[0].start, spans[-1].end)).exclude(
        place__lesson=lesson_id
    )
    taken = set(others.values_list("item_id", flat=True))
    found: dict[str, int] = {}
    for key, kind in models.Item.objects.filter(studio=lesson.studio_id, in_service_to=None).values_list("pk", "kind"):
        found[kind] = found.get(kind, 0) + (key not in taken)
    return found


def shares_anything(studio_id: int) -> bool:
    return models.Item.objects.filter(studio=studio_id, in_service_to=None).exists()


def place_of_hold(hold_id: int) -> tuple[UUID, str]:
    """The place of a hold and the label of its item. Raises ItemHold.DoesNotExist."""
    place, label = models.ItemHold.objects.values_list("place_id", "item__label").get(pk=hold_id)
    return place, label


def _hold(
    key: int,
    place_id: UUID,
    label: str,
    kind: str,
    during: object,
    live: bool,
    source: str,
    client: str,
    machine: str,
    zone: str,
) -> HoldRow:
    span, here = range_of(during), ZoneInfo(zone)
    starts, ends = zones.reading(span.start, here), zones.reading(span.end, here)
    by_program = source == HoldSource.PROGRAM
    return HoldRow(key, place_id, label, ItemKind(kind), starts, ends, live, by_program, client, machine)
