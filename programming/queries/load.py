"""The load of a client's weeks, and the lessons it rests on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from uuid import UUID
from zoneinfo import ZoneInfo

from clients import queries as client_queries
from programming import models
from programming.rules import load as rules
from programming.rules import plan
from programming.rules.load import Rated, Week
from studio.rules import zones

WEEKS = 8
DAY_LETTERS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
# Of the drawing: a bar's room and the highest bar, in pixels.
HIGHEST = 88


@dataclass(frozen=True)
class LessonLoad:
    """One finished lesson; `is_asked` while an answer still counts."""

    place_id: UUID
    on: date
    template: str
    taught_by: str
    minutes: int
    effort: int | None
    is_asked: bool

    @property
    def load(self) -> int | None:
        return Rated(self.on, self.minutes, self.effort).load

    @property
    def words(self) -> str:
        return "" if self.effort is None else rules.EFFORT_WORDS[self.effort]


@dataclass(frozen=True)
class Bar:
    """One bar of a drawing, in pixels from its top-left corner; `load` stands over it."""

    label: str
    load: int
    x: float
    y: float
    height: float
    is_now: bool


@dataclass(frozen=True)
class WeekLine:
    week: Week
    change: str
    is_now: bool

    @property
    def last_day(self) -> date:
        return self.week.monday + timedelta(days=rules.DAYS - 1)


@dataclass(frozen=True)
class LoadView:
    """The last weeks, newest first, drawn by week and this week by day; lessons newest first."""

    client_id: UUID
    client_name: str
    weeks: tuple[WeekLine, ...]
    week_bars: tuple[Bar, ...]
    day_bars: tuple[Bar, ...]
    lessons: tuple[LessonLoad, ...]

    @property
    def now(self) -> WeekLine:
        return self.weeks[0]

    @property
    def asked(self) -> tuple[LessonLoad, ...]:
        """Lessons that nobody has rated and whose answer would still count."""
        return tuple(one for one in self.lessons if one.effort is None and one.is_asked)

    @property
    def is_empty(self) -> bool:
        return not self.lessons


def load_view(client: client_queries.ClientCard, *, today: date) -> LoadView:
    """One query."""
    mondays = plan.mondays(today, WEEKS + 1)
    lessons = _lessons(client.id, since=mondays[0], today=today)
    rated = [Rated(one.on, one.minutes, one.effort) for one in lessons]
    weeks = [rules.week(monday, rated) for monday in mondays]
    lines = [
        WeekLine(week, rules.change_words(week, before), is_now=week is weeks[-1]) for before, week in pairwise(weeks)
    ]
    return LoadView(
        client_id=client.id,
        client_name=client.name,
        weeks=tuple(reversed(lines)),
        week_bars=_bars([(f"{line.week.monday.day} {line.week.monday:%b}", line.week.total) for line in lines]),
        day_bars=_bars(list(zip(DAY_LETTERS, weeks[-1].days, strict=True)), now=today.weekday()),
        lessons=tuple(one for one in lessons if one.on >= mondays[1]),
    )


def _lessons(client_id: UUID, *, since: date, today: date) -> list[LessonLoad]:
    rows = models.Log.objects.filter(program__client_id=client_id, finished_at__isnull=False)
    columns = ("place_id", "place__during", "place__lesson__studio__time_zone", "program__template__name")
    found = []
    for place_id, during, zone, template, by, effort in rows.order_by("-place__during").values_list(
        *columns, "kept_by__name", "effort"
    ):
        on = zones.local_day(during.lower, ZoneInfo(zone))
        minutes = int((during.upper - during.lower).total_seconds() // 60)
        if since <= on:
            is_asked = (today - on).days <= rules.ANSWER_DAYS
            found.append(LessonLoad(place_id, on, template, by, minutes, effort, is_asked))
    return found


def _bars(loads: Sequence[tuple[str, int]], *, now: int | None = None) -> tuple[Bar, ...]:
    """Bars of equal room; the last one is now when nothing else is said."""
    most = max([load for _, load in loads] + [1])
    room = 100 / len(loads)
    at_now = len(loads) - 1 if now is None else now
    return tuple(
        Bar(
            label,
            load,
            x=round(room * at, 3),
            y=round(HIGHEST * (1 - load / most), 2),
            height=round(HIGHEST * load / most, 2),
            is_now=at == at_now,
        )
        for at, (label, load) in enumerate(loads)
    )


def effort_of(place_id: UUID) -> int | None:
    """How hard the lesson of a place felt; None when nobody asked."""
    return models.Log.objects.filter(place_id=place_id).values_list("effort", flat=True).first()
