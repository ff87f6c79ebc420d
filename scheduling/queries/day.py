"""The day sheet: every machine of every studio over one day, and what stands in the places. Flat in queries."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import Count, Max, OuterRef, Q, Sum

from clients import queries as client_queries
from scheduling import models
from scheduling.queries.house import House, houses, range_of, spans_json
from scheduling.queries.lettering import facts_of, label, springs_of
from scheduling.queries.resources import touching
from scheduling.rules.booking import FormWord
from scheduling.rules.places import GRACE, HOLDING, LessonKind, PlaceState, late_minutes
from studio.rules import ApparatusKind, Span, zones

SOON = timedelta(minutes=15)


@dataclass(frozen=True)
class DayPlace:
    """One place on the sheet, in wall times of its studio. `marks` are names the look knows, most urgent first."""

    id: UUID
    lesson_id: UUID
    span: Span
    start_wall: datetime
    end_wall: datetime
    kind: LessonKind
    state: PlaceState
    live: bool
    client_id: UUID
    client: str
    say_it: str
    instructor_id: int
    instructor: str
    initials: str
    apparatus_id: int
    form: FormWord
    form_missing: tuple[str, ...]
    first_visit: bool
    form_runs_out: bool
    marks: tuple[str, ...] = ()
    late_minutes: int = 0

    @property
    def holds(self) -> bool:
        return self.live and self.state in HOLDING


@dataclass(frozen=True)
class DayMachine:
    """A machine and its day. `shut` are the whole spans it is out of service, those that reach past the day too."""

    id: int
    label: str
    kind: ApparatusKind
    springs: str
    places: tuple[DayPlace, ...]
    shut: tuple[tuple[Span, str], ...]


@dataclass(frozen=True)
class DayRoom:
    """A room and its machines; `open` are the studio's open spans of the day."""

    house: House
    name: str
    open: tuple[Span, ...]
    machines: tuple[DayMachine, ...]


@dataclass(frozen=True)
class DaySheet:
    """One local day of every studio. `first_minute` and `last_minute` bound the sheet in wall minutes."""

    day: date
    now: datetime
    rooms: tuple[DayRoom, ...]
    first_minute: int
    last_minute: int
    version: str
    closed: tuple[tuple[str, str], ...] = ()
    counts: Mapping[str, int] = field(default_factory=dict)

    @property
    def places(self) -> tuple[DayPlace, ...]:
        return tuple(place for room in self.rooms for machine in room.machines for place in machine.places)


def day_sheet(day: date, *, now: datetime) -> DaySheet:
    """All places of the local day `day` in every studio; not more queries for more rows."""
    found = houses()
    windows = {house.id: zones.day_span(day, house.zone) for house in found}
    rows: list[Mapping[str, Any]] = list(_machine_rows(windows.values())) if found else []
    places = _places(found, windows, now) if rows else []
    rooms = tuple(_rooms(rows, places, {house.id: house for house in found}, windows, day))
    first, last = _bounds(rooms, day)
    closed = tuple((house.name, why) for house in found if (why := house.why_closed(day)))
    seen = day_version(day, now=now, found=found)
    return DaySheet(day, now, rooms, first, last, seen, closed, _counts(rooms))


def day_version(day: date, *, now: datetime, found: list[House] | None = None) -> str:
    """A word that changes when the sheet does, and once a minute for the marks of time. Two queries."""
    spans = [zones.day_span(day, house.zone) for house in (houses() if found is None else found)]
    if not spans:
        return "none"
    window = Span(min(span.start for span in spans), max(span.end for span in spans))
    seen = models.Place.objects.filter(touching(window)).aggregate(
        n=Count("pk"), at=Max("state_at"), booked=Max("booked_at"), versions=Sum("lesson__version")
    )
    return "-".join([str(seen["n"]), str(seen["versions"]), _stamp(seen["at"]), _stamp(seen["booked"]), f"{now:%H%M}"])


def _stamp(instant: datetime | None) -> str:
    return f"{instant.timestamp():.6f}" if instant else "0"


def _machine_rows(windows: Iterable[Span]) -> Iterable[Mapping[str, Any]]:
    spans = list(windows)
    start, end = min(span.start for span in spans), max(span.end for span in spans)
    out = models.OutOfService.objects.filter(apparatus=OuterRef("pk")).filter(
        during__startswith__lt=end, during__endswith__gt=start
    )
    rows = models.Apparatus.objects.filter(studio__closed_on=None).order_by(
        "studio__position", "studio_id", "room__position", "room_id", "position", "label"
    )
    return rows.values(
        "id",
        "label",
        "kind",
        "studio_id",
        "room_id",
        "room__name",
        "in_service_from",
        "in_service_to",
        fitted=springs_of("pk"),
        out=ArraySubquery(out.values(j=spans_json(why="why"))),
    )


PLACE = (
    "id",
    "lesson_id",
    "during",
    "lesson__kind",
    "state",
    "live",
    "client_id",
    "client__name",
    "client__say_it",
    "lesson__instructor_id",
    "lesson__instructor__person__name",
    "lesson__instructor__initials",
    "apparatus_id",
    "first_visit",
    "form_runs_out",
    "apparatus__studio_id",
)


def _places(found: list[House], windows: Mapping[int, Span], now: datetime) -> list[DayPlace]:
    wanted = Q()
    for house_id, window in windows.items():
        wanted |= Q(apparatus__studio=house_id) & touching(window)
    whole = Span(min(span.start for span in windows.values()), max(span.end for span in windows.values()))
    held = models.Place.objects.filter(touching(whole)).filter(wanted).order_by("during", "state_at")
    rows: list[tuple[Any, ...]] = list(held.values_list(*PLACE))
    zone = {house.id: house for house in found}
    today = zones.local_day(now, found[0].zone)
    forms = client_queries.form_standings({row[6] for row in rows}, on=today)
    return [_place(row, zone[row[-1]], forms[row[6]], now) for row in rows]


def _place(row: tuple[Any, ...], house: House, form: Any, now: datetime) -> DayPlace:
    span, state = range_of(row[2]), PlaceState(row[4])
    late = late_minutes(state, span, now)
    word = FormWord[form.word.name]
    marks = tuple(_marks(span, state, row[5], word, now, first_visit=row[13], runs_out=row[14]))
    return DayPlace(
        row[0],
        row[1],
        span,
        zones.reading(span.start, house.zone),
        zones.reading(span.end, house.zone),
        LessonKind(row[3]),
        state,
        row[5],
        row[6],
        row[7],
        row[8],
        row[9],
        row[10],
        row[11],
        row[12],
        word,
        form.missing,
        row[13],
        row[14],
        marks,
        late if "late" in marks else 0,
    )


def _marks(
    span: Span,
    state: PlaceState,
    live: bool,
    form: FormWord,
    now: datetime,
    *,
    first_visit: bool,
    runs_out: bool,
) -> Iterable[str]:
    if not live or state not in HOLDING:
        yield state.value if state not in HOLDING else PlaceState.CANCELLED.value
        return
    if state is PlaceState.HERE:
        yield "here"
    elif late_minutes(state, span, now):
        yield "late"
    elif now <= span.start + GRACE and span.start - now <= SOON and now < span.end:
        yield "soon"
    if span.end <= now:
        return
    if form is FormWord.SPEAK:
        yield "speak"
    elif form is FormWord.NOT_CURRENT or runs_out:
        yield "form_not_current"
    if first_visit:
        yield "new"


def _rooms(
    rows: list[Mapping[str, Any]],
    places: list[DayPlace],
    found: Mapping[int, House],
    windows: Mapping[int, Span],
    day: date,
) -> Iterable[DayRoom]:
    of: dict[int, list[DayPlace]] = {}
    for place in places:
        of.setdefault(place.apparatus_id, []).append(place)
    groups: dict[int, list[Mapping[str, Any]]] = {}
    for row in rows:
        if _on_the_floor(row, day) or row["id"] in of:
            groups.setdefault(row["room_id"], []).append(row)
    for group in groups.values():
        house = found[group[0]["studio_id"]]
        machines = tuple(_machine(row, of.get(row["id"], []), windows[house.id]) for row in group)
        yield DayRoom(house, group[0]["room__name"], house.opening(day, day), machines)


def _on_the_floor(row: Mapping[str, Any], day: date) -> bool:
    return row["in_service_from"] <= day and (row["in_service_to"] is None or day <= row["in_service_to"])


def _machine(row: Mapping[str, Any], places: list[DayPlace], window: Span) -> DayMachine:
    spans = (
        (datetime.fromisoformat(one["start"]), datetime.fromisoformat(one["end"]), one["why"]) for one in row["out"]
    )
    shut = ((span, why) for start, end, why in spans if (span := Span(start, end)).common(window))
    springs = label(facts_of(row["fitted"]))
    return DayMachine(row["id"], row["label"], ApparatusKind(row["kind"]), springs, tuple(places), tuple(shut))


def _bounds(rooms: Iterable[DayRoom], day: date) -> tuple[int, int]:
    """Whole wall hours around everything open or booked that day, in minutes; 7 to 20 on a day without either."""
    starts, ends = [], []
    for room in rooms:
        spans = [*room.open, *(place.span for machine in room.machines for place in machine.places)]
        for span in spans:
            starts.append(wall_minute(span.start, room.house, day))
            ends.append(wall_minute(span.end, room.house, day))
    first, last = min(starts, default=7 * 60), max(ends, default=20 * 60)
    return first // 60 * 60, max(-(-last // 60) * 60, first // 60 * 60 + 60)


def wall_minute(instant: datetime, house: House, day: date) -> int:
    """Minutes on the wall clock of `house` since midnight of `day`, cut to that day."""
    local = instant.astimezone(house.zone)
    if local.date() < day:
        return 0
    return 24 * 60 if local.date() > day else local.hour * 60 + local.minute


def _counts(rooms: Iterable[DayRoom]) -> dict[str, int]:
    counts: dict[str, int] = {"places": 0}
    for room in rooms:
        for machine in room.machines:
            for place in machine.places:
                counts["places"] += place.holds
                for mark in place.marks:
                    counts[mark] = counts.get(mark, 0) + 1
    return counts
