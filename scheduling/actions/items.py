"""Boxes, poles, bars and chairs: shared in a studio, held by the quarter hour, taken along by the places they serve."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction

from scheduling import models
from scheduling.actions import locks
from scheduling.actions.booking import CONSTRAINTS, range_for
from scheduling.queries.house import range_of
from scheduling.rules import items as rules
from scheduling.rules.booking import span_words
from scheduling.rules.items import HoldSource, ItemKind
from scheduling.rules.places import HOLDING
from studio.actions import audit
from studio.models import Person, Studio
from studio.rules import Reason, Refused, Span

Done = TypeVar("Done")


@dataclass(frozen=True)
class Unheld:
    """Quarter hours in which a place needs an item and every one of its kind is held by others, or none is kept."""

    place_id: UUID
    kind: ItemKind
    span: Span


def add_item(*, studio_id: int, kind: ItemKind, label: str, by: Person | None, now: datetime) -> models.Item:
    """Something more to share. Raises Refused for an empty label or one that is there already."""
    studio = Studio.objects.get(pk=studio_id)
    item = models.Item(studio=studio, kind=ItemKind(kind).value, label=label.strip())
    if not item.label:
        raise Refused(Reason("no_name", "What is shared has a label.", "label"))
    with transaction.atomic():
        try:
            with transaction.atomic():
                item.save(force_insert=True)
        except IntegrityError as error:
            says = f"There is a {item.label} in {studio.name} already."
            raise Refused(Reason("label_taken", says, "label", "Another label.")) from error
        audit.wrote("add", item, by=by, now=now, detail={"kind": item.kind})
    return item


def put_away(item_id: int, *, by: Person | None, now: datetime) -> models.Item:
    """It is not shared any more. Raises Refused while places to come hold it, saying which."""
    with transaction.atomic():
        item = models.Item.objects.select_for_update(no_key=True).get(pk=item_id)
        zone = ZoneInfo(item.studio.time_zone)
        ahead = item.holds.filter(live=True, during__endswith__gt=now).select_related("place__client")
        reasons = [
            Reason(
                "still_held",
                f"{hold.place.client.name} has {item.label}, {span_words(range_of(hold.during), zone)}.",
                "item",
                "Let go of it there first.",
            )
            for hold in ahead.order_by("during")[:6]
        ]
        if reasons:
            raise Refused(reasons)
        item.in_service_to = now.astimezone(zone).date()
        item.save(update_fields=["in_service_to"])
        audit.wrote("put away", item, by=by, now=now)
    return item


def bring_out(item_id: int, *, by: Person | None, now: datetime) -> models.Item:
    """Undo `put_away`: it is shared again."""
    with transaction.atomic():
        item = models.Item.objects.select_for_update(no_key=True).get(pk=item_id)
        item.in_service_to = None
        item.save(update_fields=["in_service_to"])
        audit.wrote("bring out", item, by=by, now=now)
    return item


def hold_item(place_id: UUID, *, item_id: int, span: Span, by: Person | None, now: datetime) -> models.ItemHold:
    """Hold one item for a place over the quarter hours that `span` touches. Raises Refused when it is held, by whom."""

    def deed() -> models.ItemHold:
        place = _locked_place(place_id)
        items = {item.pk: item for item in _shared(place.lesson.studio_id)}
        if item_id not in items:
            raise Refused(Reason("not_kept", "That is not kept in this studio.", "item", "Choose one of its items."))
        wanted, reach = rules.whole_quarters(span), rules.whole_quarters(range_of(place.during))
        if not reach.contains(wanted):
            raise Refused(Reason("outside_lesson", "That is outside the lesson.", "starts", "Its own quarter hours."))
        if taken := _held_by(items[item_id], wanted):
            raise Refused(taken)
        hold = _written(place, item_id, wanted, HoldSource.HAND, by, now)
        audit.wrote("hold", hold, by=by, now=now, client_key=place.client_id, detail={"item": item_id})
        return hold

    return _settled(deed)


def release_hold(hold_id: int, *, by: Person | None, now: datetime) -> models.ItemHold:
    """Let go of a hold; what it was is returned, no longer kept."""
    with transaction.atomic():
        hold = models.ItemHold.objects.select_for_update().select_related("place", "item").get(pk=hold_id)
        detail = {"item": hold.item_id, "place": str(hold.place_id)}
        audit.wrote("release", hold, by=by, now=now, client_key=hold.place.client_id, detail=detail)
        hold.delete()
    return hold


def hold_for_program(
    wanted: Mapping[UUID, Sequence[tuple[ItemKind, Span]]], *, by: Person | None, now: datetime
) -> tuple[Unheld, ...]:
    """What programs ask for, in place of what their places held for a program before; by hand held ones stay.

    `wanted` by place; all places are of one studio. Nothing is refused: what could not be held is returned, and stays
    known as not held. A kind of which the studio keeps nothing is not counted at all.
    """

    def deed() -> tuple[Unheld, ...]:
        places = {key: _locked_place(key) for key in sorted(wanted)}
        models.ItemHold.objects.filter(place__in=places, source=HoldSource.PROGRAM.value).delete()
        studios = {place.lesson.studio_id for place in places.values()}
        kept = [item for studio in sorted(studios) for item in _shared(studio)]
        missing = []
        for key, place in places.items():
            for kind, span in wanted[key]:
                missing += _held_for(place, kind, rules.whole_quarters(span), kept, by, now)
        return tuple(missing)

    return _settled(deed) if wanted else ()


def _held_for(
    place: models.Place, kind: ItemKind, span: Span, kept: Sequence[models.Item], by: Person | None, now: datetime
) -> list[Unheld]:
    here = [item for item in kept if item.kind == kind and item.studio_id == place.lesson.studio_id]
    if not here or not _is_held(place):
        return []
    mine = models.ItemHold.objects.filter(place=place, item__in=here, live=True, during__contains=range_for(span))
    if mine.exists():
        return []
    free = rules.first_free(span, _spans(here, span))
    _written(place, free or here[0].pk, span, HoldSource.PROGRAM, by, now, live=free is not None)
    return [] if free else [Unheld(place.pk, kind, span)]


def let_go(places: Iterable[models.Place]) -> None:
    """The places hold nothing for now; what they held is known, so that it can be asked for again."""
    models.ItemHold.objects.filter(place__in=[place.pk for place in places]).update(live=False)


def follow(places: Iterable[models.Place], *, studio_id: int, was: Span, to: Span) -> None:
    """Take the holds along from a lesson's old span to its new one, under the locks of its places.

    Each keeps its item where that is free then, else another of its kind; where none is, it stays known as not held.
    """
    keys = [place.pk for place in places]
    holds = list(models.ItemHold.objects.filter(place__in=keys).select_related("item").order_by("pk"))
    if not holds:
        return
    kept = _shared(studio_id)
    models.ItemHold.objects.filter(place__in=keys).update(live=False)
    for hold in holds:
        span = rules.moved(range_of(hold.during), lesson=was, to=to)
        if span is None:
            hold.delete()
            continue
        alike = sorted((item for item in kept if item.kind == hold.item.kind), key=lambda item: item.pk != hold.item_id)
        free = rules.first_free(span, _spans(alike, span))
        hold.during, hold.live = range_for(span), free is not None
        hold.item_id = free or hold.item_id
        hold.save(update_fields=["during", "live", "item"])


def _locked_place(place_id: UUID) -> models.Place:
    lesson_id = models.Place.objects.values_list("lesson_id", flat=True).get(pk=place_id)
    lesson = locks.lesson(lesson_id)
    place = next(row for row in locks.places(lesson_id) if row.pk == place_id)
    place.lesson = lesson
    return place


def _is_held(place: models.Place) -> bool:
    return place.live and place.state in HOLDING


def _shared(studio_id: int) -> list[models.Item]:
    """The items a studio shares, locked in the order of their keys: after lessons and places, always last."""
    rows = models.Item.objects.filter(studio=studio_id, in_service_to=None).order_by("pk")
    return list(rows.select_for_update(no_key=True, of=("self",)).select_related("studio"))


def _spans(items: Sequence[models.Item], around: Span) -> list[tuple[int, list[Span]]]:
    """Each item with what is held of it around a span, in the order given."""
    found: dict[int, list[Span]] = {item.pk: [] for item in items}
    holds = models.ItemHold.objects.filter(item__in=found, live=True, during__overlap=(around.start, around.end))
    for key, during in holds.values_list("item_id", "during"):
        found[key].append(range_of(during))
    return list(found.items())


def _held_by(item: models.Item, span: Span) -> list[Reason]:
    held = item.holds.filter(live=True, during__overlap=(span.start, span.end)).select_related("place__client")
    zone = ZoneInfo(item.studio.time_zone)
    return [
        Reason(
            "item_taken",
            f"{hold.place.client.name} has {item.label}, {span_words(range_of(hold.during), zone)}.",
            "item",
            "Another one, or another quarter hour.",
        )
        for hold in held.order_by("during")
    ]


def _written(
    place: models.Place,
    item_id: int,
    span: Span,
    source: HoldSource,
    by: Person | None,
    now: datetime,
    *,
    live: bool = True,
) -> models.ItemHold:
    if not _is_held(place):
        raise Refused(Reason("place_not_held", "That place is not held any more.", "place", "A place that is booked."))
    return models.ItemHold.objects.create(
        item_id=item_id,
        place=place,
        during=range_for(span),
        live=live,
        source=source.value,
        made_by=by,
        made_at=now,
    )


def _settled(deed: Callable[[], Done]) -> Done:
    try:
        return locks.settled(deed)
    except locks.Clashed as clash:
        raise Refused(CONSTRAINTS[clash.constraint]) from clash
