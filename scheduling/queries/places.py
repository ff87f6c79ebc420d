"""Single places: facts for the floor, the slip at the desk, the lessons of a teacher's day, a client's next ones."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import OuterRef

from clients import queries as client_queries
from scheduling import models
from scheduling.queries.house import range_of
from scheduling.queries.lettering import facts_of, letters, springs_of
from scheduling.queries.resources import HELD
from scheduling.rules.booking import FormWord
from scheduling.rules.places import LessonKind, PlaceState, state_on_cancel, undone
from scheduling.rules.springs import SpringFact
from studio.rules import ApparatusKind, Span, zones


@dataclass(frozen=True)
class PlaceFacts:
    """A place as the floor needs it. `inventory` are the machine's springs, heaviest first ("HMML")."""

    place_id: UUID
    lesson_id: UUID
    client_id: UUID
    client_name: str
    apparatus_id: int
    apparatus_label: str
    kind: ApparatusKind
    inventory: str
    springs: tuple[SpringFact, ...]
    instructor_id: int
    instructor_person_id: int
    instructor_name: str
    span: Span
    zone: ZoneInfo
    studio_id: int
    studio: str
    room: str
    lesson_kind: LessonKind
    state: PlaceState
    live: bool
    lesson_version: int
    first_visit: bool
    started_at: datetime | None
    completed_at: datetime | None

    @property
    def start_wall(self) -> datetime:
        return zones.reading(self.span.start, self.zone)

    @property
    def end_wall(self) -> datetime:
        return zones.reading(self.span.end, self.zone)

    @property
    def day(self) -> date:
        return zones.local_day(self.span.start, self.zone)


@dataclass(frozen=True)
class Slip:
    """A place as the desk opens it: facts, the form's standing, what may be done with it now."""

    place: PlaceFacts
    say_it: str
    pronoun: str
    form: FormWord
    form_missing: tuple[str, ...]
    form_until: date | None
    signed_on: date | None
    form_runs_out: bool
    others: tuple[str, ...]
    on_cancel: PlaceState
    may_undo: bool
    may_cancel: bool
    may_be_here: bool
    may_miss: bool
    may_move: bool


FACTS = (
    "id",
    "lesson_id",
    "client_id",
    "client__name",
    "apparatus_id",
    "apparatus__label",
    "apparatus__kind",
    "lesson__instructor_id",
    "lesson__instructor__person_id",
    "lesson__instructor__person__name",
    "during",
    "lesson__studio__time_zone",
    "lesson__studio_id",
    "lesson__studio__name",
    "lesson__room__name",
    "lesson__kind",
    "state",
    "live",
    "lesson__version",
    "first_visit",
    "lesson__started_at",
    "lesson__completed_at",
)


MORE = ("client__say_it", "client__pronoun", "form_runs_out", "lesson__studio__cancel_hours")


def place_facts(place_id: UUID) -> PlaceFacts:
    """One query; raises Place.DoesNotExist."""
    rows = models.Place.objects.filter(pk=place_id)
    return _facts(rows.values_list(*FACTS, springs_of("apparatus")).get())


def places_of_day(person_id: int, day: date, *, now: datetime) -> list[PlaceFacts]:
    """The places a teacher has on a local day of each studio, by time; cancelled ones are left out. One query."""
    rows = models.Place.objects.filter(lesson__instructor__person=person_id, live=True)
    rows = rows.exclude(state__in=[PlaceState.CANCELLED.value, PlaceState.CANCELLED_LATE.value])
    # No zone is further than 14 hours from UTC, so that these bounds hold every local day of that date.
    around = zones.day_span(day, ZoneInfo("Etc/GMT+12")), zones.day_span(day, ZoneInfo("Etc/GMT-14"))
    rows = rows.filter(during__startswith__gte=around[1].start, during__startswith__lt=around[0].end)
    found = (
        _facts(row) for row in rows.order_by("during", "client__name").values_list(*FACTS, springs_of("apparatus"))
    )
    return [place for place in found if place.day == day]


def upcoming(client_id: UUID, *, now: datetime, limit: int = 12) -> list[PlaceFacts]:
    """The next places a client holds, soonest first. One query."""
    rows = models.Place.objects.filter(client=client_id, live=True, state__in=HELD, during__endswith__gt=now)
    rows = rows.order_by("during")[:limit]
    return [_facts(row) for row in rows.values_list(*FACTS, springs_of("apparatus"))]


def slip(place_id: UUID, *, now: datetime) -> Slip:
    """One query beside the client's form standing; raises Place.DoesNotExist."""
    others = models.Place.objects.filter(lesson=OuterRef("lesson_id"), live=True, state__in=HELD).exclude(
        pk=OuterRef("pk")
    )
    beside = ArraySubquery(others.order_by("client__name").values("client__name"))
    row = models.Place.objects.filter(pk=place_id).values_list(*FACTS, springs_of("apparatus"), *MORE, beside).get()
    place = _facts(row[: len(FACTS) + 1])
    say_it, pronoun, runs_out, cancel_hours, names = row[len(FACTS) + 1 :]
    form = client_queries.form_standings([place.client_id], on=zones.local_day(now, place.zone))[place.client_id]
    booked = place.live and place.state is PlaceState.BOOKED
    return Slip(
        place,
        say_it,
        pronoun,
        FormWord[form.word.name],
        form.missing,
        form.valid_until,
        form.signed_on,
        runs_out,
        tuple(names),
        state_on_cancel(now, place.span.start, cancel_hours),
        may_undo=undone(place.state) is not None,
        may_cancel=booked and now < place.span.end,
        may_be_here=booked or place.state is PlaceState.MISSED,
        may_miss=booked and now >= place.span.start,
        may_move=booked and now < place.span.start,
    )


def _facts(row: tuple[Any, ...]) -> PlaceFacts:
    springs = facts_of(row[-1])
    return PlaceFacts(
        place_id=row[0],
        lesson_id=row[1],
        client_id=row[2],
        client_name=row[3],
        apparatus_id=row[4],
        apparatus_label=row[5],
        kind=ApparatusKind(row[6]),
        inventory=letters(springs),
        springs=springs,
        instructor_id=row[7],
        instructor_person_id=row[8],
        instructor_name=row[9],
        span=range_of(row[10]),
        zone=ZoneInfo(row[11]),
        studio_id=row[12],
        studio=row[13],
        room=row[14],
        lesson_kind=LessonKind(row[15]),
        state=PlaceState(row[16]),
        live=row[17],
        lesson_version=row[18],
        first_visit=row[19],
        started_at=row[20],
        completed_at=row[21],
    )
