"""Book a place: lock, look, ask the rules, write, promise reminders. The database has the last word."""

from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID, uuid4

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from clients.models import Client
from scheduling import models, queries
from scheduling.actions import letters, locks
from scheduling.queries import booking as looked_up
from scheduling.rules import booking as rules
from scheduling.rules.alternatives import Asked
from scheduling.rules.places import HOLDING, SEATS, LessonKind, PlaceState
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused, Span, zones

TAKEN = frozenset(f"{on}_taken" for on in rules.ClashOn)
CONSTRAINTS = {
    "scheduling_place_apparatus_free": Reason(
        "machine_taken", "That machine was taken this moment.", "apparatus", "Another machine, or another time."
    ),
    "scheduling_lesson_instructor_free": Reason(
        "instructor_taken", "That teacher was taken this moment.", "instructor", "Another teacher, or another time."
    ),
    "scheduling_place_client_free": Reason(
        "client_taken", "That client was booked this moment.", "client", "Another time."
    ),
    "scheduling_itemhold_item_free": Reason(
        "item_taken", "That was taken this moment.", "item", "Another one, or another quarter hour."
    ),
}


@dataclass(frozen=True)
class Wish:
    """A place asked for, as it came in. `lesson_id` when a lesson is joined."""

    client_id: UUID
    apparatus_id: int
    instructor_id: int
    span: Span
    kind: LessonKind
    lesson_id: UUID | None = None
    seats: int | None = None

    def asked(self) -> Asked:
        return Asked(self.span, self.kind, self.instructor_id, self.apparatus_id)


def book_place(
    *,
    client_id: UUID,
    apparatus_id: int,
    instructor_id: int,
    span: Span,
    kind: LessonKind,
    by: Person | None,
    now: datetime,
    lesson_id: UUID | None = None,
    seats: int | None = None,
) -> models.Place:
    """Book a client on a machine with a teacher; in `lesson_id`, or in a new lesson with `seats` (the kind's most).

    Raises Refused with every rule that says no; a `…_taken` reason says by whom and names the nearest alternatives.
    Raises ObjectDoesNotExist for an unknown key.
    """
    wish = Wish(client_id, apparatus_id, instructor_id, span, LessonKind(kind), lesson_id, seats)
    try:
        return locks.settled(lambda: _book(wish, by, now))
    except locks.Clashed as clash:
        refused = Refused(_who_has_it(wish, clash.constraint))
    except Refused as refusal:
        refused = refusal
    # After the transaction: the locks are free while we look for what else there is.
    raise with_alternatives(refused, wish.asked(), client_id=client_id, now=now)


def with_alternatives(
    refused: Refused, asked: Asked, *, client_id: UUID, now: datetime, lesson_id: UUID | None = None
) -> Refused:
    """The refusal, its taken reasons naming up to three openings that are really free."""
    if not TAKEN & {reason.code for reason in refused.reasons}:
        return refused
    found = queries.nearest(asked, now=now, client_id=client_id, lesson_id=lesson_id)
    if not found:
        return refused
    words = "; ".join(queries.opening_words(opening) for opening in found)
    return Refused([replace(one, allowed=f"Free: {words}.") if one.code in TAKEN else one for one in refused.reasons])


def _book(wish: Wish, by: Person | None, now: datetime) -> models.Place:
    teacher = locks.instructors([wish.instructor_id])[wish.instructor_id]
    if not teacher.person.is_active:
        # The openings on a screen may be older than her leaving.
        says = f"{teacher.person.name} does not teach here any more."
        raise Refused(Reason("teacher_left", says, "instructor", "Another teacher; look for openings again."))
    client = locks.clients([wish.client_id])[wish.client_id]
    locks.apparatus([wish.apparatus_id])
    lesson = locks.lesson(wish.lesson_id) if wish.lesson_id else None
    if lesson is not None:
        _same_lesson(wish, lesson)
    standing = looked_up.standing(wish.apparatus_id, wish.span)
    facts = facts_for(wish, standing, client, lesson, now)
    if reasons := rules.booking_refusals(facts):
        raise Refused(reasons)
    lesson = lesson or _new_lesson(wish, standing, facts.seats_total, by, now)
    place = _new_place(wish, lesson, client, facts, by, now)
    letters.promise(letters.Letter(place, client, teacher.person, standing.house, lesson.version), now=now)
    audit.wrote("book", place, by=by, now=now, client_key=client.pk, detail={"lesson": str(lesson.pk)})
    return place


def facts_for(
    wish: Wish,
    standing: looked_up.Standing,
    client: Client,
    lesson: models.Lesson | None,
    now: datetime,
    *,
    moving: bool = False,
) -> rules.BookingFacts:
    """All the rules ask about, read under the locks. `moving`: the lesson's own bookings are not in the way."""
    house = standing.house
    taken, total = _seats(wish, lesson, moving=moving)
    return rules.BookingFacts(
        now=now,
        span=wish.span,
        kind=wish.kind,
        house=rules.House(house.name, house.zone, _opening(wish.span, standing), house.closures()),
        machine=standing.machine,
        instructor=looked_up.teacher(wish.instructor_id, house, wish.span).facts,
        client=looked_up.client_facts(client.pk, client.name, on=zones.local_day(now, house.zone)),
        seats_total=total,
        seats_taken=taken,
        room=lesson.room.name if lesson is not None and not moving else "",
        clashes=_clashes(wish, lesson, moving=moving),
    )


def _clashes(wish: Wish, lesson: models.Lesson | None, *, moving: bool) -> tuple[rules.Clash, ...]:
    return looked_up.clashes(
        wish.span,
        apparatus_id=wish.apparatus_id,
        instructor_id=wish.instructor_id,
        client_id=wish.client_id,
        lesson_id=None if lesson is None else lesson.pk,
        moving=moving,
    )


def _seats(wish: Wish, lesson: models.Lesson | None, *, moving: bool) -> tuple[int, int]:
    """How many seats of the lesson are taken, and how many it has."""
    if lesson is None:
        return 0, wish.seats or SEATS[wish.kind][1]
    return 0 if moving else _seats_taken(lesson.pk), lesson.seats


def _opening(span: Span, standing: looked_up.Standing) -> tuple[Span, ...]:
    zone = standing.house.zone
    return standing.house.opening(zones.local_day(span.start, zone), zones.local_day(span.end, zone))


def _seats_taken(lesson_id: UUID) -> int:
    return models.Place.objects.filter(lesson=lesson_id, live=True, state__in=HOLDING).count()


def _same_lesson(wish: Wish, lesson: models.Lesson) -> None:
    span = Span(lesson.during.lower, lesson.during.upper)
    same = (lesson.instructor_id, span, lesson.kind) == (wish.instructor_id, wish.span, wish.kind.value)
    if not (lesson.live and same):
        says = "That lesson was moved or cancelled since you looked."
        raise Refused(Reason("lesson_changed", says, "lesson", "Look for openings again."))


def _new_lesson(
    wish: Wish, standing: looked_up.Standing, seats: int, by: Person | None, now: datetime
) -> models.Lesson:
    return models.Lesson.objects.create(
        id=uuid4(),
        studio_id=standing.house.id,
        room_id=standing.room_id,
        kind=wish.kind.value,
        during=range_for(wish.span),
        instructor_id=wish.instructor_id,
        seats=seats,
        made_by=by,
        made_at=now,
    )


def _new_place(
    wish: Wish, lesson: models.Lesson, client: Client, facts: rules.BookingFacts, by: Person | None, now: datetime
) -> models.Place:
    return models.Place.objects.create(
        id=uuid4(),
        lesson=lesson,
        during=range_for(wish.span),
        client=client,
        apparatus_id=wish.apparatus_id,
        state=PlaceState.BOOKED.value,
        state_at=now,
        form_runs_out=bool(rules.booking_marks(facts)),
        first_visit=client.visits == 0 and not looked_up.came_before(client.pk, wish.span),
        booked_by=by,
        booked_at=now,
    )


def range_for(span: Span) -> DateTimeTZRange:
    return DateTimeTZRange(span.start, span.end, "[)")


def _who_has_it(wish: Wish, constraint: str) -> list[Reason] | Reason:
    """Who took it while we were writing; the constraint's own words when they have let go again already."""
    zone = looked_up.standing(wish.apparatus_id, wish.span).house.zone
    clashes = looked_up.clashes(
        wish.span, apparatus_id=wish.apparatus_id, instructor_id=wish.instructor_id, client_id=wish.client_id
    )
    return rules.clash_reasons(clashes, zone=zone) or CONSTRAINTS[constraint]
