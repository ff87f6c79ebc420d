"""Pregnancy in days: from weeks told to a due date, how far it is today, and what the next twelve weeks change."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from clients.rules.form.fields import Answers
from clients.rules.outcomes import Level
from clients.rules.reference import Basis, LimitRule, Rulebook

# From the first day of the last bleeding to the due date, and from conception (common practice, no source).
WHOLE_PREGNANCY, FROM_CONCEPTION = timedelta(days=280), timedelta(days=266)
AHEAD = timedelta(weeks=12)
# Days after the due date until which a baby may still be on its way (studio default).
LONGEST_OVERDUE = 30


@dataclass(frozen=True)
class Stage:
    """A stage that begins on a day: which week of the pregnancy that is, and what is then left out or changed."""

    day: date
    weeks: int
    leaves_out: tuple[str, ...]
    changes: tuple[str, ...]


@dataclass(frozen=True)
class Expecting:
    """How far a pregnancy is on a day, and twelve weeks later; `weeks_then` is None when the due date lies before."""

    weeks: int
    days: int
    due: date
    then: date
    weeks_then: int | None
    stages: tuple[Stage, ...]

    @property
    def look_again(self) -> tuple[date, ...]:
        """The days on which the limits are looked at anew; after the birth the form is asked again."""
        return tuple(stage.day for stage in self.stages)


def due_on(*, weeks: int, on: date) -> date:
    """The due date that so many whole weeks on a day mean."""
    return on + WHOLE_PREGNANCY - timedelta(weeks=weeks)


def days_along(due: date, *, on: date) -> int:
    """Days of the pregnancy on a day, counted as weeks of pregnancy are."""
    return (on - (due - WHOLE_PREGNANCY)).days


def expecting(rulebook: Rulebook, answers: Answers, *, on: date) -> Expecting | None:
    """What is to come for a pregnant client, from her answers; None when no due date is told."""
    told = answers.get("H13")
    if not isinstance(told, list | tuple) or "pregnant" not in told:
        return None
    value = answers.get("H13.due")
    try:
        due = date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        due = None
    if due is None:
        return None
    weeks, days = divmod(max(0, days_along(due, on=on)), 7)
    then = on + AHEAD
    weeks_then = days_along(due, on=then) // 7 if then <= due else None
    return Expecting(weeks, days, due, then, weeks_then, tuple(_stages(rulebook, due, on=on)))


def _stages(rulebook: Rulebook, due: date, *, on: date) -> Iterator[Stage]:
    begun = due - WHOLE_PREGNANCY
    rows = [row for row in rulebook.conditions.values() if row.window_basis is Basis.GESTATION]
    for first, row_id in sorted((row.window_days_from or 0, row.id) for row in rows):
        day = begun + timedelta(days=first)
        if on < day <= min(on + AHEAD, due):
            limits = rulebook.limits_by_condition.get(row_id, ())
            yield Stage(day, first // 7, _named(limits, Level.AVOID, rulebook), _named(limits, Level.ADAPT, rulebook))


def _named(limits: Iterable[LimitRule], level: Level, rulebook: Rulebook) -> tuple[str, ...]:
    names = [rulebook.demands[one.demand].name for one in limits if one.level is level]
    return tuple(f"{name[0].lower()}{name[1:]}" for name in names)


def too_soon_after(birth: date, due: date) -> bool:
    """Whether a baby due then must have been on its way before this birth (three weeks between, from memory)."""
    return due - FROM_CONCEPTION < birth + timedelta(weeks=3)
