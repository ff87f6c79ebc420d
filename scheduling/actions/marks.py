"""What becomes of a place: here, cancelled, missed, taken back; and a lesson that starts and is taught."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from clients import actions as client_actions
from clients.models import Client
from scheduling import models
from scheduling.actions import items, letters, locks
from scheduling.actions.booking import CONSTRAINTS
from scheduling.queries import booking as looked_up
from scheduling.queries.house import range_of
from scheduling.rules import booking as rules
from scheduling.rules import places
from scheduling.rules.places import HOLDING, PlaceState
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused, Role, zones

CANCELS = (PlaceState.CANCELLED, PlaceState.CANCELLED_LATE)
# A booking made by a slip of the hand costs nothing while the hand is still there.
SLIP_OF_THE_HAND = timedelta(minutes=5)


@dataclass
class Held:
    """A place with all that is locked for it."""

    place: models.Place
    others: list[models.Place]
    lesson: models.Lesson
    client: Client
    teacher: models.Instructor
    standing: looked_up.Standing

    def letter(self) -> letters.Letter:
        return letters.Letter(self.place, self.client, self.teacher.person, self.standing.house, self.lesson.version)


def mark_place(place_id: UUID, *, state: PlaceState, by: Person | None, now: datetime) -> models.Place:
    """Put a place into `state`. Whether a cancellation is late is told by the clock; the owner may forgive it.

    Raises Refused when the place cannot become that, or when booking it again finds its time taken.
    """
    return _settled(lambda: _mark(_held(place_id), PlaceState(state), by, now))


def undo_place(place_id: UUID, *, by: Person | None, now: datetime) -> models.Place:
    """Make a place booked again: its machine, seat and time are asked for anew, its visit is not counted any more."""
    return _settled(lambda: _undo(_held(place_id), by, now))


def take_back_booking(place_id: UUID, *, by: Person | None, now: datetime) -> models.Place:
    """Undo a booking made in the last five minutes: cancelled, never late. Raises Refused after that."""

    def deed() -> models.Place:
        held = _held(place_id)
        if PlaceState(held.place.state) is not PlaceState.BOOKED or now - held.place.booked_at > SLIP_OF_THE_HAND:
            says = "A booking is taken back within five minutes."
            raise Refused(Reason("too_late_to_undo", says, "state", "Cancel the place instead."))
        return _become(held, PlaceState.CANCELLED, by, now)

    return _settled(deed)


def start_lesson(place_id: UUID, *, by: Person | None, now: datetime) -> models.Place:
    """The lesson begins for this place: the client is here. Safe to repeat.

    Raises Refused when the client's form is not current on the day of the lesson, or the instructor is to be asked.
    """

    def deed() -> models.Place:
        held = _held(place_id)
        _check_form(held)
        return _start(held, by, now)

    return _settled(deed)


def complete_place(place_id: UUID, *, by: Person | None, now: datetime) -> models.Place:
    """The place was taught: its visit is counted, once. Safe to repeat; `undo_place` takes the visit back."""
    return _settled(lambda: _complete(_held(place_id), by, now))


def reopen_place(place_id: UUID, *, by: Person | None, now: datetime) -> models.Place:
    """The client is still here and the place not taught yet: its visit is taken back. Safe to repeat."""

    def deed() -> models.Place:
        held = _held(place_id)
        _uncount(held, by, now)
        return held.place

    return _settled(deed)


def remind_place(place_id: UUID, *, now: datetime) -> models.Place:
    """Lay the reminders of a place that is still booked, where the client agreed to them. Safe to repeat."""

    def deed() -> models.Place:
        held = _held(place_id)
        if held.place.live and PlaceState(held.place.state) is PlaceState.BOOKED:
            letters.remind(held.letter(), now=now)
        return held.place

    return _settled(deed)


def _settled(deed: Callable[[], models.Place]) -> models.Place:
    try:
        return locks.settled(deed)
    except locks.Clashed as clash:
        raise Refused(CONSTRAINTS[clash.constraint]) from clash


def _held(place_id: UUID) -> Held:
    """Lock in the order of all, then look again: what was read before the locks only told which rows to lock."""
    seen = models.Place.objects.values_list("client_id", "apparatus_id", "lesson_id", "lesson__instructor_id")
    client_id, apparatus_id, lesson_id, instructor_id = seen.get(pk=place_id)
    teacher = locks.instructors([instructor_id])[instructor_id]
    client = locks.clients([client_id])[client_id]
    locks.apparatus([apparatus_id])
    lesson = locks.lesson(lesson_id)
    rows = locks.places(lesson_id)
    place = next(row for row in rows if row.pk == place_id)
    if (place.apparatus_id, lesson.instructor_id) != (apparatus_id, instructor_id):
        raise Refused(Reason("place_moved", "Somebody moved this place at the same moment.", allowed="Look again."))
    standing = looked_up.standing(apparatus_id, range_of(place.during))
    return Held(place, [row for row in rows if row is not place], lesson, client, teacher, standing)


def _mark(held: Held, wanted: PlaceState, by: Person | None, now: datetime) -> models.Place:
    state, span = PlaceState(held.place.state), range_of(held.place.during)
    if wanted is PlaceState.BOOKED:
        return _undo(held, by, now)
    if not held.place.live and state is PlaceState.BOOKED:
        raise Refused(Reason("lesson_cancelled", "The whole lesson was cancelled.", "state", "Book another place."))
    if wanted in CANCELS and state is PlaceState.BOOKED:
        wanted = places.state_on_cancel(now, span.start, held.standing.house.cancel_hours)
    if reasons := places.transition_refusals(state, wanted, span=span, now=now):
        raise Refused(reasons)
    if state is PlaceState.CANCELLED_LATE and not (by is None or by.has_role(Role.OWNER)):
        raise Refused(Reason("owner_forgives", "Only the owner makes a late cancellation a timely one.", "state"))
    return _become(held, wanted, by, now)


def _undo(held: Held, by: Person | None, now: datetime) -> models.Place:
    wanted = places.undone(PlaceState(held.place.state))
    if wanted is None:
        raise Refused(Reason("nothing_to_undo", "Nothing has happened to this place yet.", "state"))
    return _become(held, wanted, by, now)


def _become(held: Held, wanted: PlaceState, by: Person | None, now: datetime) -> models.Place:
    place, before = held.place, PlaceState(held.place.state)
    if places.takes_hold_again(before, wanted):
        _ask_again(held, now)
    if before is PlaceState.HERE and wanted is PlaceState.BOOKED:
        _uncount(held, by, now)
    place.state, place.state_at = wanted.value, now
    place.save(update_fields=["state", "state_at"])
    if wanted in CANCELS and before not in CANCELS:
        letters.take_back(place, now=now)
        _let_go(held, now)
    elif before in CANCELS and wanted in HOLDING:
        _take_hold(held, now)
    if before in HOLDING and wanted not in HOLDING:
        items.let_go([place])
    elif places.takes_hold_again(before, wanted):
        span = range_of(place.during)
        items.follow([place], studio_id=held.lesson.studio_id, was=span, to=span)
    detail = {"from": before.value, "to": wanted.value}
    audit.wrote("mark", place, by=by, now=now, client_key=held.client.pk, detail=detail)
    return place


def _ask_again(held: Held, now: datetime) -> None:
    span, lesson = range_of(held.place.during), held.lesson
    clashes = looked_up.clashes(
        span,
        apparatus_id=held.place.apparatus_id,
        instructor_id=lesson.instructor_id,
        client_id=held.client.pk,
        lesson_id=lesson.pk,
    )
    reasons = rules.clash_reasons(clashes, zone=held.standing.house.zone)
    taken = sum(other.live and other.state in HOLDING for other in held.others)
    if taken >= lesson.seats:
        says = f"This lesson is full: {taken} of {lesson.seats} seats are taken."
        reasons.append(Reason("lesson_full", says, "lesson", "Another lesson."))
    if reasons:
        raise Refused(reasons)


def _let_go(held: Held, now: datetime) -> None:
    """A lesson nobody comes to any more gives its teacher's time back; one somebody missed has been waited for."""
    waiting = (*HOLDING, PlaceState.MISSED)
    if held.lesson.live and not any(other.live and other.state in waiting for other in held.others):
        models.Lesson.objects.filter(pk=held.lesson.pk).update(live=False, cancelled_at=now)
        held.place.live = False


def _take_hold(held: Held, now: datetime) -> None:
    lesson = held.lesson
    # Grown, so that the reminders promised anew are not taken for those that were withdrawn.
    lesson.live, lesson.cancelled_at, lesson.version = True, None, lesson.version + 1
    lesson.save(update_fields=["live", "cancelled_at", "version"])
    held.place.live = True
    letters.promise(held.letter(), now=now)


def _check_form(held: Held) -> None:
    day = zones.local_day(range_of(held.place.during).start, held.standing.house.zone)
    client = looked_up.client_facts(held.client.pk, held.client.name, on=day)
    if reasons := rules.start_refusals(client, on=day):
        raise Refused(reasons)


def _start(held: Held, by: Person | None, now: datetime) -> models.Place:
    place = held.place
    if PlaceState(place.state) is not PlaceState.HERE:
        place = _mark(held, PlaceState.HERE, by, now)
    if held.lesson.started_at is None:
        models.Lesson.objects.filter(pk=held.lesson.pk).update(started_at=now)
        audit.wrote("start", held.lesson, by=by, now=now)
    return place


def _complete(held: Held, by: Person | None, now: datetime) -> models.Place:
    place = _start(held, by, now)
    if place.visit_counted:
        return place
    zone = held.standing.house.zone
    day = zones.local_day(range_of(place.during).start, zone)
    client_actions.count_visit(held.client.pk, on=day, by=by, now=now, instructor_id=held.teacher.person_id)
    place.visit_counted = True
    place.save(update_fields=["visit_counted"])
    models.Lesson.objects.filter(pk=held.lesson.pk, completed_at=None).update(completed_at=now)
    audit.wrote("complete", place, by=by, now=now, client_key=held.client.pk)
    return place


def _uncount(held: Held, by: Person | None, now: datetime) -> None:
    place = held.place
    if not place.visit_counted:
        return
    zone = held.standing.house.zone
    day = zones.local_day(range_of(place.during).start, zone)
    last = _last_visit(held, zone)
    client_actions.uncount_visit(held.client.pk, on=day, by=by, now=now, last_visit=last)
    place.visit_counted = False
    place.save(update_fields=["visit_counted"])
    if not any(other.visit_counted for other in held.others):
        models.Lesson.objects.filter(pk=held.lesson.pk).update(completed_at=None)


def _last_visit(held: Held, zone: ZoneInfo) -> date | None:
    """The local day of the last counted visit beside this one."""
    counted = models.Place.objects.filter(client=held.client.pk, visit_counted=True).exclude(pk=held.place.pk)
    during = counted.order_by("-during").values_list("during", flat=True).first()
    return zones.local_day(during.lower, zone) if during else None
