"""Load of a lesson and of a week: how hard it felt, times its minutes. Information, never a prediction of injury."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import isclose
from statistics import fmean, stdev

DAYS = 7
HARDEST = 10
# Answers are stable from a minute to fourteen days after the lesson (foster2021).
ANSWER_DAYS = 14

# What each number means, 0 to 10 (common practice, no source for the wording).
EFFORT_WORDS = {
    0: "rest",
    1: "very, very easy",
    2: "easy",
    3: "moderate",
    4: "somewhat hard",
    5: "hard",
    6: "between hard and very hard",
    7: "very hard",
    8: "between very hard and the most",
    9: "almost the most",
    10: "the most there is",
}


@dataclass(frozen=True)
class Rated:
    """One lesson: its local day, its minutes, and how hard it felt, 0 to 10; None when nobody asked."""

    on: date
    minutes: int
    effort: int | None

    @property
    def load(self) -> int | None:
        """Effort times minutes (foster2001); None when nobody asked."""
        return None if self.effort is None else lesson_load(self.effort, self.minutes)


@dataclass(frozen=True)
class Week:
    """Seven days from a Monday. `days` are their loads, a day of rest 0; `unrated` lessons have no number.

    `monotony` and `strain` are None when the days do not differ, or when a lesson of the week was not rated: a week
    with a gap would look easier than it was.
    """

    monday: date
    days: tuple[int, ...]
    lessons: int
    unrated: int
    monotony: float | None
    strain: float | None

    @property
    def total(self) -> int:
        return sum(self.days)


def lesson_load(effort: int, minutes: int) -> int:
    """Perceived effort (0 to 10) x minutes (foster2001). Raises ValueError outside these."""
    if not 0 <= effort <= HARDEST or minutes < 0:
        raise ValueError("an effort is 0 to 10, minutes are not negative")
    return effort * minutes


def monotony_of(days: Sequence[float]) -> float | None:
    """Mean of the daily loads over their sample deviation (foster1998, which does not say which deviation).

    None when the deviation is nought.
    """
    deviation = stdev(days)
    return None if isclose(deviation, 0, abs_tol=1e-9) else fmean(days) / deviation


def strain_of(days: Sequence[float]) -> float | None:
    """The week's load times its monotony (foster1998); None where there is no monotony."""
    monotony = monotony_of(days)
    return None if monotony is None else sum(days) * monotony


def week(monday: date, lessons: Iterable[Rated]) -> Week:
    """The week from `monday`; two lessons of one day are summed first, days without one are 0."""
    last = monday + timedelta(days=DAYS)
    found = [lesson for lesson in lessons if monday <= lesson.on < last]
    sums: Mapping[int, int] = _by_day(monday, found)
    days = tuple(sums.get(day, 0) for day in range(DAYS))
    unrated = sum(lesson.load is None for lesson in found)
    told = None if unrated else days
    return Week(
        monday=monday,
        days=days,
        lessons=len(found),
        unrated=unrated,
        monotony=monotony_of(told) if told else None,
        strain=strain_of(told) if told else None,
    )


def _by_day(monday: date, lessons: Iterable[Rated]) -> dict[int, int]:
    sums: dict[int, int] = {}
    for lesson in lessons:
        day = (lesson.on - monday).days
        sums[day] = sums.get(day, 0) + (lesson.load or 0)
    return sums


def change_words(now: Week, before: Week) -> str:
    """The change from the week before, in words; empty when either has no number to compare."""
    if now.unrated or before.unrated or not (now.lessons and before.lessons):
        return ""
    more = now.total - before.total
    if more == 0:
        return "as much as the week before"
    return f"{abs(more)} {'more' if more > 0 else 'less'} than the week before"
