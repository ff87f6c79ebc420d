"""Rooms, machines, their springs, and when a machine is out of service."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction

from scheduling import models
from scheduling.actions import locks
from scheduling.actions.booking import range_for
from scheduling.queries.house import House, houses, range_of
from scheduling.queries.lettering import CLASS_OF
from scheduling.queries.resources import HELD
from scheduling.rules.booking import day_words, span_words
from scheduling.rules.springs import MOST_SPRINGS, USUAL
from studio.actions import audit
from studio.models import Person, Studio
from studio.rules import ApparatusKind, Reason, Refused, Span, zones


def add_room(*, studio_id: int, name: str, by: Person | None, now: datetime) -> models.Room:
    """Raises Refused when the studio has a room of that name."""
    _house(studio_id)
    with transaction.atomic():
        position = models.Room.objects.filter(studio=studio_id).count()
        room = models.Room(studio_id=studio_id, name=name.strip(), position=position)
        if not room.name:
            raise Refused(Reason("no_name", "A room has a name.", "name"))
        _saved(room, Reason("name_taken", f"There is a room called {room.name} already.", "name", "Another name."))
        audit.wrote("add", room, by=by, now=now)
    return room


def add_apparatus(
    *,
    studio_id: int,
    room_id: int,
    kind: ApparatusKind,
    label: str,
    springs: str,
    by: Person | None,
    now: datetime,
    in_service_from: date | None = None,
) -> models.Apparatus:
    """Put a machine into a room, with `springs` as letters from the foot end ("HHMML"; empty for none).

    In service from `in_service_from`, today when None. Raises Refused for a taken label, another studio's room or
    letters that are no springs.
    """
    house = _house(studio_id)
    classes = _classes(springs)
    with transaction.atomic():
        room = models.Room.objects.get(pk=room_id)
        if room.studio_id != studio_id:
            raise Refused(
                Reason("other_studio", f"{room.name} is not in {house.name}.", "room", "Choose one of its rooms.")
            )
        machine = _machine(room, house, kind, label, in_service_from or zones.local_day(now, house.zone))
        _hang(machine, classes, zones.local_day(now, house.zone))
        audit.wrote("add", machine, by=by, now=now, detail={"springs": springs})
    return machine


def _machine(room: models.Room, house: House, kind: ApparatusKind, label: str, first: date) -> models.Apparatus:
    machine = models.Apparatus(
        studio_id=house.id,
        room=room,
        kind=ApparatusKind(kind).value,
        label=label.strip(),
        position=models.Apparatus.objects.filter(room=room).count(),
        in_service_from=first,
    )
    if not machine.label:
        raise Refused(Reason("no_name", "A machine has a label.", "label"))
    says = f"There is a {machine.label} in {house.name} already."
    _saved(machine, Reason("label_taken", says, "label", "Another label."))
    return machine


def change_springs(apparatus_id: int, *, springs: str, by: Person | None, now: datetime) -> models.Apparatus:
    """What hangs on the machine from today on. Springs that stay keep their numbers."""
    classes = _classes(springs)
    with transaction.atomic():
        locks.apparatus([apparatus_id])
        machine = models.Apparatus.objects.select_related("studio").get(pk=apparatus_id)
        today = zones.local_day(now, _house(machine.studio_id).zone)
        kept = list(machine.springs.filter(removed_on=None).order_by("position"))
        for spring in kept:
            if spring.stiffness_class in classes:
                classes.remove(spring.stiffness_class)
            else:
                spring.removed_on = today
                spring.save(update_fields=["removed_on"])
        _hang(machine, classes, today)
        audit.wrote("change springs", machine, by=by, now=now, detail={"springs": springs})
    return machine


def take_out_of_service(
    apparatus_id: int, *, span: Span, why: str, by: Person | None, now: datetime
) -> models.OutOfService:
    """Nobody may be booked on the machine over `span`. Raises Refused while somebody is, saying who and when."""
    with transaction.atomic():
        locks.apparatus([apparatus_id])
        machine = models.Apparatus.objects.get(pk=apparatus_id)
        zone = _house(machine.studio_id).zone
        held = models.Place.objects.filter(
            apparatus=machine, live=True, state__in=HELD, during__overlap=(span.start, span.end)
        ).order_by("during")
        rows = list(held.values_list("client__name", "during")[:6])
        if rows:
            raise Refused([_booked(machine, name, range_of(during), zone) for name, during in rows])
        row = models.OutOfService.objects.create(
            apparatus=machine, during=range_for(span), why=why.strip()[:120], made_by=by, made_at=now
        )
        audit.wrote("out of service", row, by=by, now=now, detail={"apparatus": machine.pk})
    return row


def bring_back(out_id: int, *, by: Person | None, now: datetime) -> None:
    """The machine is in service again: what is left of the span is taken away, what has passed stays known."""
    with transaction.atomic():
        row = models.OutOfService.objects.get(pk=out_id)
        locks.apparatus([row.apparatus_id])
        row = models.OutOfService.objects.select_for_update().get(pk=out_id)
        span = range_of(row.during)
        audit.wrote("back in service", row, by=by, now=now, detail={"apparatus": row.apparatus_id})
        if span.start < now:
            row.during = range_for(Span(span.start, min(now, span.end)))
            row.save(update_fields=["during"])
        else:
            row.delete()


def _booked(machine: models.Apparatus, name: str, span: Span, zone: ZoneInfo) -> Reason:
    day = day_words(zones.local_day(span.start, zone))
    says = f"{name} is booked on {machine.label} on {day}, {span_words(span, zone)}."
    return Reason("still_booked", says, "apparatus", "Move or cancel that place first.")


def _house(studio_id: int) -> House:
    for house in houses():
        if house.id == studio_id:
            return house
    raise Studio.DoesNotExist("no such studio")


def _classes(springs: str) -> list[str]:
    letters = springs.strip().upper().replace(" ", "")
    if len(letters) > MOST_SPRINGS or not set(letters) <= set(CLASS_OF):
        says = "Springs are written as letters: L light, M medium, H heavy."
        raise Refused(Reason("unknown_springs", says, "springs", f"HHMML, for example; at most {MOST_SPRINGS}."))
    return [CLASS_OF[letter] for letter in letters]


def _hang(machine: models.Apparatus, classes: list[str], day: date) -> None:
    taken = set(machine.springs.filter(removed_on=None).values_list("position", flat=True))
    free = (number for number in range(1, 100) if number not in taken)
    for name in classes:
        k, x0 = USUAL[name]
        machine.springs.create(stiffness_class=name, position=next(free), k_n_per_m=k, x0_m=x0, fitted_on=day)


def _saved(row: models.Room | models.Apparatus, taken: Reason) -> None:
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as error:
        raise Refused(taken) from error
