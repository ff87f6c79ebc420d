"""Move a lesson, cancel it, hand lessons over: its places follow in the same update, or nothing moves at all."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from clients.models import Client
from scheduling import models
from scheduling.actions import items, letters, locks
from scheduling.actions.booking import CONSTRAINTS, Wish, facts_for, range_for, with_alternatives
from scheduling.queries import booking as looked_up
from scheduling.queries.house import range_of
from scheduling.rules import booking as rules
from scheduling.rules.alternatives import Asked
from scheduling.rules.places import HOLDING, LessonKind
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused, Span

# A move is no new booking: who has a place keeps it, and the mark says what is missing.
NOT_ASKED = frozenset({"form_not_current", "speak_to_instructor"})


@dataclass(frozen=True)
class HandedOver:
    """Lessons that went to the other teacher, and those that could not with the reasons."""

    moved: tuple[UUID, ...]
    left: tuple[tuple[UUID, Span, tuple[Reason, ...]], ...]


@dataclass
class Move:
    """A lesson with its held places, everything locked, and where it goes."""

    lesson: models.Lesson
    places: list[models.Place]
    clients: Mapping[UUID, Client]
    teacher: models.Instructor
    span: Span
    machines: Mapping[UUID, int]
    standings: Mapping[int, looked_up.Standing]

    def machine(self, place: models.Place) -> int:
        return self.machines.get(place.pk, place.apparatus_id)


def move_lesson(
    lesson_id: UUID,
    *,
    span: Span,
    by: Person | None,
    now: datetime,
    instructor_id: int | None = None,
    apparatus: Mapping[UUID, int] | None = None,
) -> models.Lesson:
    """Give a lesson another span, teacher or machines (by place). All its places move with it, or it is refused.

    Reminders are replaced and everyone hears of it; the lesson's version grows. Raises Refused as booking does.
    """
    try:
        return locks.settled(lambda: _move(lesson_id, span, instructor_id, apparatus or {}, by, now))
    except locks.Clashed as clash:
        raise Refused(CONSTRAINTS[clash.constraint]) from clash
    except Refused as refusal:
        refused = refusal
    raise _with_alternatives(refused, lesson_id, span, instructor_id, apparatus or {}, now)


def cancel_lesson(lesson_id: UUID, *, by: Person | None, now: datetime) -> models.Lesson:
    """The studio cancels a lesson: its places hold nothing any more, everyone hears of it. Raises Refused."""

    def deed() -> models.Lesson:
        move = _locked(lesson_id, None, None, {})
        _still_ahead(move.lesson, now)
        models.Lesson.objects.filter(pk=lesson_id).update(live=False, cancelled_at=now)
        items.let_go(move.places)
        for place in move.places:
            letters.take_back(place, now=now)
            letters.tell(_letter(move, place), "lesson_cancelled", now=now)
        audit.wrote("cancel", move.lesson, by=by, now=now, detail={"places": [str(one.pk) for one in move.places]})
        move.lesson.refresh_from_db(fields=["live", "cancelled_at"])
        return move.lesson

    return locks.settled(deed)


def bring_back_lesson(lesson_id: UUID, *, by: Person | None, now: datetime) -> models.Lesson:
    """Undo `cancel_lesson`: everything is asked for anew and promised anew. Raises Refused when it is taken by now."""

    def deed() -> models.Lesson:
        move = _locked(lesson_id, None, None, {}, live=False)
        if move.lesson.live or not move.places or range_of(move.lesson.during).start <= now:
            raise Refused(Reason("nothing_to_undo", "There is nothing to bring back.", "lesson"))
        _checked(move, now)
        _write(move, set(), {place.pk: place.form_runs_out for place in move.places})
        items.follow(move.places, studio_id=move.lesson.studio_id, was=move.span, to=move.span)
        for place in move.places:
            letters.take_back(place, now=now)
            letters.promise(_letter(move, place), now=now)
        audit.wrote("bring back", move.lesson, by=by, now=now)
        return move.lesson

    try:
        return locks.settled(deed)
    except locks.Clashed as clash:
        raise Refused(CONSTRAINTS[clash.constraint]) from clash


def hand_over(from_instructor: int, to_instructor: int, *, by: Person | None, now: datetime) -> HandedOver:
    """Give every lesson ahead of one teacher to another, each checked like a booking and moved by itself.

    Lessons the other may not or cannot take stay where they are and are listed with the reasons.
    """
    if from_instructor == to_instructor:
        raise Refused(Reason("same_teacher", "Choose another teacher.", "to_instructor"))
    ahead = models.Lesson.objects.filter(instructor=from_instructor, live=True, during__startswith__gte=now)
    moved: list[UUID] = []
    left: list[tuple[UUID, Span, tuple[Reason, ...]]] = []
    for lesson_id, during in ahead.order_by("during").values_list("pk", "during"):
        span = range_of(during)
        try:
            move_lesson(lesson_id, span=span, instructor_id=to_instructor, by=by, now=now)
            moved.append(lesson_id)
        except Refused as refused:
            left.append((lesson_id, span, refused.reasons))
    return HandedOver(tuple(moved), tuple(left))


def _move(
    lesson_id: UUID,
    span: Span,
    instructor_id: int | None,
    machines: Mapping[UUID, int],
    by: Person | None,
    now: datetime,
) -> models.Lesson:
    move = _locked(lesson_id, span, instructor_id, machines)
    _still_ahead(move.lesson, now)
    marks = _checked(move, now)
    before, teacher_before = range_of(move.lesson.during), move.lesson.instructor_id
    changed_machines = {place.pk for place in move.places if move.machine(place) != place.apparatus_id}
    _write(move, changed_machines, marks)
    items.follow(move.places, studio_id=move.lesson.studio_id, was=before, to=span)
    told = (span, move.teacher.pk) != (before, teacher_before)
    for place in move.places:
        letters.take_back(place, now=now)
        if told:
            letters.tell(_letter(move, place), "lesson_moved", now=now)
        letters.promise(_letter(move, place), now=now)
    detail = {"from": before.start.isoformat(), "to": span.start.isoformat(), "teacher": move.teacher.pk}
    audit.wrote("move", move.lesson, by=by, now=now, detail=detail)
    return move.lesson


def _locked(
    lesson_id: UUID, span: Span | None, instructor_id: int | None, machines: Mapping[UUID, int], *, live: bool = True
) -> Move:
    """Lock teachers, clients and machines, old and new, then the lesson and its places, and look again."""
    seen = models.Lesson.objects.values_list("instructor_id", "during").get(pk=lesson_id)
    people = _people(lesson_id, live)
    teacher_id = instructor_id or seen[0]
    teachers = locks.instructors({seen[0], teacher_id})
    clients = locks.clients({client for client, _ in people})
    locks.apparatus({*(machine for _, machine in people), *machines.values()})
    lesson = locks.lesson(lesson_id)
    places = [place for place in locks.places(lesson_id) if place.live is live and place.state in HOLDING]
    now_there = {(place.client_id, place.apparatus_id) for place in places}
    if lesson.instructor_id != seen[0] or not now_there <= people:
        raise Refused(
            Reason("lesson_changed", "Somebody changed this lesson at the same moment.", allowed="Look again.")
        )
    span = span or range_of(lesson.during)
    wanted = {machines.get(place.pk, place.apparatus_id) for place in places}
    standings = {machine: looked_up.standing(machine, span) for machine in wanted}
    return Move(lesson, places, clients, teachers[teacher_id], span, machines, standings)


def _people(lesson_id: UUID, live: bool) -> set[tuple[UUID, int]]:
    rows = models.Place.objects.filter(lesson=lesson_id, live=live, state__in=HOLDING)
    return set(rows.values_list("client_id", "apparatus_id"))


def _still_ahead(lesson: models.Lesson, now: datetime) -> None:
    if not lesson.live:
        raise Refused(Reason("lesson_cancelled", "That lesson is cancelled already.", "lesson"))
    if lesson.started_at is not None or range_of(lesson.during).start <= now:
        says = "That lesson has begun; it stays where it is."
        raise Refused(Reason("lesson_started", says, "lesson", "Choose one that is still to come."))


def _checked(move: Move, now: datetime) -> Mapping[UUID, bool]:
    """Which places' forms run out before the lesson; raises Refused with every reason once."""
    reasons: dict[Reason, None] = {}
    marks: dict[UUID, bool] = {}
    rooms = {standing.machine.room for standing in move.standings.values()}
    if len(rooms) > 1:
        reasons[
            Reason("other_room", "The machines stand in different rooms.", "apparatus", "Machines of one room.")
        ] = None
    for place in move.places:
        facts = _facts(move, place, now)
        found = rules.booking_refusals(facts)
        reasons.update((one, None) for one in found if one.code not in NOT_ASKED)
        marks[place.pk] = bool(rules.booking_marks(facts)) or any(one.code in NOT_ASKED for one in found)
    if reasons:
        raise Refused(list(reasons))
    return marks


def _facts(move: Move, place: models.Place, now: datetime) -> rules.BookingFacts:
    machine, kind = move.machine(place), LessonKind(move.lesson.kind)
    wish = Wish(place.client_id, machine, move.teacher.pk, move.span, kind, move.lesson.pk)
    return facts_for(wish, move.standings[machine], move.clients[place.client_id], move.lesson, now, moving=True)


def _write(move: Move, changed_machines: set[UUID], marks: Mapping[UUID, bool]) -> None:
    lesson, standing = move.lesson, next(iter(move.standings.values()), None)
    if changed_machines:
        # Two places may change machines with each other: free both, then take both, under the locks.
        models.Lesson.objects.filter(pk=lesson.pk).update(live=False, cancelled_at=lesson.made_at)
        for place in move.places:
            place.apparatus_id = move.machine(place)
            models.Place.objects.filter(pk=place.pk).update(apparatus=place.apparatus_id)
    lesson.during, lesson.instructor_id = range_for(move.span), move.teacher.pk
    lesson.version, lesson.live, lesson.cancelled_at = lesson.version + 1, True, None
    if standing is not None:
        lesson.studio_id, lesson.room_id = standing.house.id, standing.room_id
    lesson.save(update_fields=["during", "instructor_id", "version", "live", "cancelled_at", "studio_id", "room_id"])
    for place in move.places:
        place.during = lesson.during
        if place.form_runs_out is not marks[place.pk]:
            models.Place.objects.filter(pk=place.pk).update(form_runs_out=marks[place.pk])


def _letter(move: Move, place: models.Place) -> letters.Letter:
    house = move.standings[move.machine(place)].house
    return letters.Letter(place, move.clients[place.client_id], move.teacher.person, house, move.lesson.version)


def _with_alternatives(
    refused: Refused,
    lesson_id: UUID,
    span: Span,
    instructor_id: int | None,
    machines: Mapping[UUID, int],
    now: datetime,
) -> Refused:
    lesson = models.Lesson.objects.get(pk=lesson_id)
    place = lesson.places.filter(live=True, state__in=HOLDING).order_by("pk").first()
    if place is None:
        return refused
    machine = machines.get(place.pk, place.apparatus_id)
    asked = Asked(span, LessonKind(lesson.kind), instructor_id or lesson.instructor_id, machine)
    return with_alternatives(refused, asked, client_id=place.client_id, now=now, lesson_id=lesson_id)
