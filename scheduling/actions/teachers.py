"""Who teaches what and when, and when she is away."""

from collections.abc import Iterable, Mapping
from datetime import datetime, time
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction

from scheduling import models, queries
from scheduling.actions import locks
from scheduling.actions.booking import range_for
from scheduling.queries.house import range_of
from scheduling.rules.booking import day_words, span_words
from scheduling.rules.leaving import leaving_refusals
from studio.actions import audit, people
from studio.models import Person
from studio.rules import ApparatusKind, Reason, Refused, Role, Span, zones

WeekHours = Iterable[tuple[int, int, time, time]]


def add_instructor(
    *,
    person_id: int,
    initials: str,
    may_teach: Mapping[ApparatusKind, int],
    hours: WeekHours,
    by: Person | None,
    now: datetime,
    needs: Iterable[str] = (),
) -> models.Instructor:
    """Make a person a teacher: highest level (1 to 5) by kind, and (studio, weekday, starts, ends) in wall time there.

    Raises Refused for somebody without the role, taken initials, a level out of range or hours that overlap.
    """
    with transaction.atomic():
        person = Person.objects.get(pk=person_id)
        if not person.has_role(Role.INSTRUCTOR):
            says = f"{person.name} does not have the role of an instructor."
            raise Refused(Reason("not_a_teacher", says, "person", "Give the role first."))
        row = models.Instructor(person=person, initials=initials.strip().upper(), needs=sorted(set(needs)))
        _save(row)
        _set(row, may_teach, hours)
        audit.wrote("add", row, by=by, now=now)
    return row


def change_instructor(
    instructor_id: int,
    *,
    initials: str,
    may_teach: Mapping[ApparatusKind, int],
    hours: WeekHours,
    by: Person | None,
    now: datetime,
    needs: Iterable[str] | None = None,
) -> models.Instructor:
    """Replace clearances and hours; lessons booked already stay. `needs` None leaves them. Raises Refused as adding."""
    with transaction.atomic():
        row = locks.instructors([instructor_id])[instructor_id]
        row.initials = initials.strip().upper()
        row.needs = row.needs if needs is None else sorted(set(needs))
        _save(row)
        row.may_teach.all().delete()
        row.hours.all().delete()
        _set(row, may_teach, hours)
        audit.wrote("change", row, by=by, now=now)
    return row


def add_time_off(instructor_id: int, *, span: Span, by: Person | None, now: datetime, why: str = "") -> models.TimeOff:
    """Nobody may book her over `span`. Raises Refused while lessons stand in it, saying which."""
    with transaction.atomic():
        row = locks.instructors([instructor_id])[instructor_id]
        lessons = models.Lesson.objects.filter(
            instructor=row, live=True, during__overlap=(span.start, span.end)
        ).order_by("during")
        found = list(lessons.values_list("during", "studio__time_zone")[:6])
        if found:
            raise Refused([_teaches(row, range_of(during), ZoneInfo(zone)) for during, zone in found])
        off = models.TimeOff.objects.create(instructor=row, during=range_for(span), why=why.strip()[:120], made_at=now)
        audit.wrote("time off", off, by=by, now=now)
    return off


def end_time_off(off_id: int, *, by: Person | None, now: datetime) -> None:
    """She is back: time off that has not begun is forgotten, what has begun ends now."""
    with transaction.atomic():
        off = models.TimeOff.objects.get(pk=off_id)
        locks.instructors([off.instructor_id])
        off = models.TimeOff.objects.select_for_update().get(pk=off_id)
        span = range_of(off.during)
        audit.wrote("end time off", off, by=by, now=now)
        if span.start < now:
            off.during = range_for(Span(span.start, min(now, span.end)))
            off.save(update_fields=["during"])
        else:
            off.delete()


def leave_house(person_id: int, *, by: Person, now: datetime) -> Person:
    """End the account of anybody who works here, once she has nothing left to teach; what she wrote stays.

    Raises Refused: lessons ahead (how many, until when) or one that runs, and like `people.leave`.
    """
    with transaction.atomic():
        person = Person.objects.get(pk=person_id)
        # Bookings take this lock first: none slips in between the look and the closed account.
        locks.instructors(models.Instructor.objects.filter(person=person).values_list("pk", flat=True))
        if reasons := leaving_refusals(person.name, queries.still_teaches(person_id, now=now)):
            raise Refused(reasons)
        return people.leave(person_id, by=by, now=now)


def _teaches(row: models.Instructor, span: Span, zone: ZoneInfo) -> Reason:
    day = day_words(zones.local_day(span.start, zone))
    says = f"{row.person.name} teaches on {day}, {span_words(span, zone)}."
    return Reason("still_teaches", says, "span", "Hand the lesson over or cancel it first.")


def _save(row: models.Instructor) -> None:
    if not 1 <= len(row.initials) <= 4:
        raise Refused(Reason("initials", "Initials are one to four letters.", "initials"))
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError as error:
        says = f"{row.initials} stands for somebody else, or this person teaches here already."
        raise Refused(Reason("initials_taken", says, "initials", "Other initials.")) from error


def _set(row: models.Instructor, may_teach: Mapping[ApparatusKind, int], hours: WeekHours) -> None:
    for kind, level in may_teach.items():
        if not 1 <= level <= 5:
            raise Refused(Reason("level_range", "A level is from 1 to 5.", "may_teach", "1 to 5"))
        row.may_teach.create(apparatus_kind=ApparatusKind(kind).value, level=level)
    week = sorted(hours, key=lambda one: (one[1], one[2]))
    for before, one in zip([None, *week], week, strict=False):
        _, weekday, starts, ends = one
        if ends <= starts:
            raise Refused(Reason("hours_end_before", "Hours end after they start.", "hours"))
        # Two studios, one person: the wall times of one day may not overlap, wherever they are.
        if before and before[1] == weekday and before[3] > starts:
            raise Refused(
                Reason(
                    "hours_overlap",
                    "Two stretches of one day overlap.",
                    "hours",
                    "Make them one, or end the first earlier.",
                )
            )
    for studio_id, weekday, starts, ends in week:
        row.hours.create(studio_id=studio_id, weekday=weekday, starts=starts, ends=ends)
