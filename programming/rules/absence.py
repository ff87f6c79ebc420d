"""What a time away and the day itself allow: new exercises in a lesson (rule 8) and the level after absence (rule 15).

Common practice, no source; the days of absence are rows of review_intervals.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from programming.rules.reference.faults import Row

FIRST_LESSON_LEAST = 6
FIRST_LESSON_MOST = 8
FIRST_LESSON_LEVEL = 2
EARLY_DAYS = 42
EARLY_NEW = 3
SETTLED_NEW = 2
GROUP_NEW = 1
AWAY_DAYS_WITHOUT_NEW = 21


@dataclass(frozen=True)
class Occasion:
    """A client on the day of a lesson.

    `lessons_before` counts her lessons so far, `days_since_first` runs from the first one, `days_away` from the last
    (None before the first). `is_group` means two people or more, `is_unwell` new symptoms or poor sleep today.
    """

    lessons_before: int
    days_since_first: int = 0
    days_away: int | None = None
    is_group: bool = False
    is_unwell: bool = False


@dataclass(frozen=True)
class NewWork:
    """At most so many exercises not met before, and why; `top_level` is the highest level of any row, if bounded."""

    most: int
    says: str
    top_level: int | None = None


def new_work(occasion: Occasion) -> NewWork:
    """Rule 8: how much new work this lesson may bring, the strictest word first."""
    if occasion.is_unwell:
        return NewWork(0, "nothing new on a day of new symptoms or poor sleep")
    if not occasion.lessons_before:
        says = f"{FIRST_LESSON_LEAST} to {FIRST_LESSON_MOST} exercises in a first lesson"
        return NewWork(FIRST_LESSON_MOST, says, FIRST_LESSON_LEVEL)
    if (occasion.days_away or 0) > AWAY_DAYS_WITHOUT_NEW:
        return NewWork(0, "nothing new after more than three weeks away")
    if occasion.is_group:
        return NewWork(GROUP_NEW, "one new exercise each in a duet or group")
    if occasion.days_since_first < EARLY_DAYS:
        return NewWork(EARLY_NEW, "two or three new exercises a lesson in the first six weeks")
    return NewWork(SETTLED_NEW, "one or two new exercises a lesson for somebody settled")


class Recheck(StrEnum):
    """What is asked of somebody who comes back."""

    NONE = ""
    QUICK = "quick"
    FULL = "full"


@dataclass(frozen=True)
class Return:
    """Coming back: so many levels down for so many lessons, and what is checked first.

    After the longest absence the reassessment decides the level, so nothing is taken down here.
    """

    levels_down: int = 0
    lessons: int = 0
    recheck: Recheck = Recheck.NONE


_RETURNS = (
    ("absence_long", Return(recheck=Recheck.FULL)),
    ("absence_middle", Return(1, 2, Recheck.QUICK)),
    ("absence_short", Return(1, 1)),
)


def after_absence(days: int, intervals: Sequence[Row]) -> Return:
    """Rule 15 for `days` since the last lesson; KeyError when review_intervals lacks a row of absence."""
    first_day = {row["item"]: int(row["days"]) for row in intervals if row["item"].startswith("absence_")}
    return next((found for item, found in _RETURNS if days >= first_day[item]), Return())


def level_today(ceiling: int, back: Return, *, lessons_since: int) -> int:
    """The ceiling in the lesson that follows `lessons_since` lessons since the return; never under level 1."""
    return max(1, ceiling - back.levels_down) if lessons_since < back.lessons else ceiling
