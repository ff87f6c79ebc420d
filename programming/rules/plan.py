"""The plan over weeks: what was introduced when, how often it was practised, and how it stood at each week's end."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from programming.rules.marks import Standing
from programming.rules.progress import Entry, Granted, standing

WEEK = timedelta(days=7)
# Nobody's log goes further back than so many pages of weeks.
PAGES = 200
# A stacked bar, in pixels: above its highest is room for the sum, and so much takes a line of text.
BAR, BAR_ABOVE, BAR_TEXT = 132.0, 22.0, 14.0
BAR_FOOT = BAR_ABOVE + BAR


@dataclass(frozen=True)
class PlanCell:
    """One exercise in one week. `times` it was practised, `score` the last one given, `standing` at the week's end.

    `begins` marks the week of the first lesson with it; `is_planned` says that a coming lesson holds it.
    """

    monday: date
    times: int
    score: int | None
    standing: Standing | None
    begins: bool
    is_planned: bool


@dataclass(frozen=True)
class PlanRow:
    """One exercise over the weeks. `introduced_on` is None for one that only a coming lesson holds."""

    exercise_id: str
    introduced_on: date | None
    cells: tuple[PlanCell, ...]


@dataclass(frozen=True)
class Part:
    """A part of a stacked bar, in pixels from the top of the drawing; `text` is where its number's middle stands."""

    kind: str
    count: int
    y: float
    height: float
    text: float

    @property
    def is_low(self) -> bool:
        """Whether its number has no room in it, and stands beside it."""
        return self.height < BAR_TEXT


def mondays(last: date, count: int) -> tuple[date, ...]:
    """`count` Mondays, the last one that of the week of `last`."""
    monday = last - timedelta(days=last.weekday())
    return tuple(monday - WEEK * back for back in range(count - 1, -1, -1))


def row(
    exercise_id: str,
    history: Sequence[Entry],
    weeks: Sequence[date],
    *,
    today: date,
    granted: Sequence[Granted] = (),
    planned: Collection[date] = (),
) -> PlanRow:
    """The exercise over the weeks; weeks that have not begun have no standing, only what is planned."""
    practised = sorted((entry for entry in history if entry.is_practised), key=lambda entry: entry.on)
    first = min([entry.on for entry in practised] + [word.on for word in granted], default=None)
    cells = tuple(
        _cell(monday, practised, today=today, first=first, granted=granted, planned=planned) for monday in weeks
    )
    return PlanRow(exercise_id, first, cells)


def _cell(
    monday: date,
    practised: Sequence[Entry],
    *,
    today: date,
    first: date | None,
    granted: Sequence[Granted],
    planned: Collection[date],
) -> PlanCell:
    after = monday + WEEK
    found = [entry for entry in practised if monday <= entry.on < after]
    scores = [entry.score for entry in found if entry.score is not None]
    end = min(after - timedelta(days=1), today)
    return PlanCell(
        monday=monday,
        times=len(found),
        score=scores[-1] if scores else None,
        standing=standing(practised, on=end, granted=granted) if monday <= today else None,
        begins=first is not None and monday <= first < after,
        is_planned=any(max(monday, today) <= day < after for day in planned),
    )


def counts(rows: Sequence[PlanRow], week: int) -> Mapping[Standing, int]:
    """How many exercises stand where at the end of a week, by its index; never a share of the repertoire."""
    found = Counter(row.cells[week].standing for row in rows)
    return {word: found[word] for word in Standing}


def bar(counts: Mapping[Standing, int], most: int) -> tuple[Part, ...]:
    """One stacked bar from its foot upwards, owned first. `most` is the sum of the highest bar beside it, 1 or more."""
    found, floor, beside = [], BAR_FOOT, BAR_FOOT + BAR_TEXT
    for word in (Standing.OWNED, Standing.WORKING, Standing.INTRODUCED, Standing.PAUSED):
        if not counts[word]:
            continue
        height = BAR * counts[word] / most
        floor -= height
        middle = floor + height / 2
        if height < BAR_TEXT:
            # Two low parts in a row: the upper number makes way for the lower one.
            middle = beside = min(middle, beside - BAR_TEXT)
        found.append(Part(word.value, counts[word], round(floor, 2), round(height, 2), round(middle, 2)))
    return tuple(found)
