"""The plan over weeks: a line for each exercise with its lessons on it, and how many stood where each week."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from uuid import UUID
from zoneinfo import ZoneInfo

from clients import queries as client_queries
from programming import models
from programming.queries import histories as history_queries
from programming.queries import repertoire
from programming.rules import plan as rules
from programming.rules.marks import Decision, Standing
from programming.rules.plan import Part, PlanCell, PlanRow
from programming.rules.repertoire import ExerciseRow
from studio.rules import ApparatusKind, zones

WEEKS = 12
AHEAD = 2
# Of the drawing: names take this share of its width; a row, a heading and the scale take these pixels.
NAMES, ROW, HEAD, SCALE = 34.0, 24, 34, 30


@dataclass(frozen=True)
class Dot:
    """One week of one exercise: `kind` is its standing, or planned; a dot when practised or planned, else a line."""

    x: float
    kind: str
    times: int
    begins: bool


@dataclass(frozen=True)
class Stretch:
    """A run of weeks of one standing, drawn as a line between two percentages."""

    start: float
    end: float
    kind: str


@dataclass(frozen=True)
class DrawnRow:
    exercise_id: str
    name: str
    y: int
    introduced_on: date | None
    standing: Standing | None
    dots: tuple[Dot, ...]
    stretches: tuple[Stretch, ...]
    cells: tuple[PlanCell, ...]


@dataclass(frozen=True)
class DrawnGroup:
    """The rows of one kind of apparatus under their heading."""

    kind: ApparatusKind
    y: int
    rows: tuple[DrawnRow, ...]


@dataclass(frozen=True)
class Tick:
    x: float
    label: str
    is_now: bool


@dataclass(frozen=True)
class Stack:
    x: float
    label: str
    parts: tuple[Part, ...]

    @property
    def total(self) -> int:
        return sum(part.count for part in self.parts)

    @property
    def top(self) -> float:
        """The upper edge of the bar in pixels from the top of the drawing; its foot when nothing stands."""
        return self.parts[-1].y if self.parts else rules.BAR_FOOT


@dataclass(frozen=True)
class PlanView:
    """The plan of a client. `back` counts pages of twelve weeks into the past; 0 holds this week and two ahead."""

    client_id: UUID
    client_name: str
    today: date
    back: int
    weeks: tuple[date, ...]
    ticks: tuple[Tick, ...]
    groups: tuple[DrawnGroup, ...]
    stacks: tuple[Stack, ...]
    has_earlier: bool

    @property
    def height(self) -> int:
        return SCALE + sum(HEAD + ROW * len(group.rows) for group in self.groups)

    @property
    def last_day(self) -> date:
        return self.weeks[-1] + timedelta(days=6)

    @property
    def introduced(self) -> tuple[tuple[date, tuple[str, ...]], ...]:
        """What was introduced in each of the weeks, the newest first."""
        rows = [row for group in self.groups for row in group.rows]
        by_week = {
            monday: tuple(row.name for row in rows if row.cells[at].begins) for at, monday in enumerate(self.weeks)
        }
        return tuple((monday, names) for monday, names in reversed(by_week.items()) if names)

    @property
    def told(self) -> str:
        count = sum(len(group.rows) for group in self.groups)
        return f"{count} exercises over {len(self.weeks)} weeks. The table says the same in words."


def plan_view(client: client_queries.ClientCard, *, today: date, now: datetime, back: int = 0) -> PlanView:
    """A fixed number of queries. An exercise stands in it when it was met, or a coming lesson holds it."""
    ahead = AHEAD if back == 0 else 0
    weeks = rules.mondays(today + timedelta(weeks=ahead) - timedelta(weeks=WEEKS * back), WEEKS + ahead)
    histories, granted = history_queries.histories(client.id), history_queries.grants(client.id)
    planned = _planned(client.id, now) if back == 0 else {}
    named = repertoire.known_exercises({*histories, *granted, *planned})
    rows = [
        rules.row(
            key, histories.get(key, ()), weeks, today=today, granted=granted.get(key, ()), planned=planned.get(key, ())
        )
        for key in named
    ]
    shown = [row for row in rows if any(cell.standing or cell.is_planned for cell in row.cells)]
    met = [row.introduced_on for row in rows if row.introduced_on]
    return PlanView(
        client_id=client.id,
        client_name=client.name,
        today=today,
        back=back,
        weeks=weeks,
        ticks=tuple(
            Tick(_x(at, weeks), label, weeks[at] <= today < weeks[at] + rules.WEEK)
            for at, label in enumerate(_labels(weeks))
        ),
        groups=_drawn(shown, named, weeks),
        stacks=_stacks(shown, weeks, today),
        has_earlier=bool(met) and min(met) < weeks[0],
    )


def _planned(client_id: UUID, now: datetime) -> dict[str, list[date]]:
    """The days of coming lessons by the exercises their programs hold; one query."""
    lines = models.ProgramLine.objects.filter(
        program__client_id=client_id,
        program__replaced_at=None,
        program__place__live=True,
        program__place__state="booked",
        program__place__during__startswith__gt=now,
    ).exclude(decision=Decision.LEFT_OUT)
    found: dict[str, list[date]] = {}
    columns = ("exercise_id", "program__place__during", "program__place__lesson__studio__time_zone")
    for key, during, zone in lines.values_list(*columns):
        found.setdefault(key, []).append(zones.local_day(during.lower, ZoneInfo(zone)))
    return found


def _labels(weeks: Sequence[date]) -> tuple[str, ...]:
    """The day of each Monday, with its month where that begins."""
    months = [None, *(monday.month for monday in weeks)]
    return tuple(
        str(monday.day) if monday.month == before else f"{monday.day} {monday:%b}"
        for before, monday in zip(months, weeks, strict=False)
    )


def _x(at: float, weeks: Sequence[date]) -> float:
    """The middle of a week, in percent of the drawing."""
    return round(NAMES + (100 - NAMES) * (at + 0.5) / len(weeks), 3)


def _drawn(rows: Sequence[PlanRow], named: Mapping[str, ExerciseRow], weeks: Sequence[date]) -> tuple[DrawnGroup, ...]:
    ordered = sorted(
        rows, key=lambda row: (named[row.exercise_id].apparatus.value, named[row.exercise_id].order_in_apparatus)
    )
    y, found = SCALE, []
    for kind, group in groupby(ordered, key=lambda row: named[row.exercise_id].apparatus):
        of_kind = list(group)
        drawn = tuple(
            _row(row, named[row.exercise_id].name, y + HEAD + ROW * at, weeks) for at, row in enumerate(of_kind)
        )
        found.append(DrawnGroup(kind, y, drawn))
        y += HEAD + ROW * len(of_kind)
    return tuple(found)


def _row(row: PlanRow, name: str, y: int, weeks: Sequence[date]) -> DrawnRow:
    dots = tuple(
        Dot(_x(at, weeks), "planned" if cell.is_planned else str(cell.standing), cell.times, cell.begins)
        for at, cell in enumerate(row.cells)
        if cell.is_planned or (cell.standing and (cell.times or cell.begins))
    )
    stands = [cell.standing for cell in row.cells if cell.standing]
    return DrawnRow(
        exercise_id=row.exercise_id,
        name=name,
        y=y,
        introduced_on=row.introduced_on,
        standing=stands[-1] if stands else None,
        dots=dots,
        stretches=_stretches(row.cells, weeks),
        cells=row.cells,
    )


def _stretches(cells: Sequence[PlanCell], weeks: Sequence[date]) -> tuple[Stretch, ...]:
    found, half = [], 0.5
    for standing, run in groupby(enumerate(cells), key=lambda one: one[1].standing):
        if standing:
            places = [at for at, _ in run]
            begins = 0 if cells[places[0]].begins else half
            found.append(Stretch(_x(places[0] - begins, weeks), _x(places[-1] + half, weeks), standing.value))
    return tuple(found)


def _stacks(rows: Sequence[PlanRow], weeks: Sequence[date], today: date) -> tuple[Stack, ...]:
    """How many exercises stood where at each week's end; weeks that have not begun have none."""
    begun = [at for at, monday in enumerate(weeks) if monday <= today]
    counted = {at: rules.counts(rows, at) for at in begun}
    most = max((sum(one.values()) for one in counted.values()), default=0) or 1
    labels = _labels(weeks)
    return tuple(Stack(_x(at, weeks), labels[at], rules.bar(counted[at], most)) for at in begun)
