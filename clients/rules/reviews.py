"""When a review is due: after so many lessons or so many days, whichever comes first."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from clients.rules.reference import ReviewInterval


@dataclass(frozen=True)
class DueReview:
    """When something is due. `due_visits` is a count of all the client's visits; None where that side never comes.

    `visits_left` is how many lessons were still to come when it was asked, never below nought.
    """

    kind: str
    due_on: date | None
    due_visits: int | None
    visits_left: int | None

    def is_due(self, on: date, visits: int) -> bool:
        """Whether it is due on the day, after this many visits in all."""
        by_day = self.due_on is not None and on >= self.due_on
        by_visits = self.due_visits is not None and visits >= self.due_visits
        return by_day or by_visits


def due(
    kind: str,
    *,
    counted_from: date,
    visits_then: int,
    visits_now: int,
    intervals: Mapping[str, ReviewInterval],
) -> DueReview:
    """When a review of this kind is due, counted from the last one.

    `visits_then` and `visits_now` are all the client's visits on that day and today. Raises KeyError for a kind that
    the intervals do not hold.
    """
    interval = intervals[kind]
    due_visits = None if interval.visits is None else visits_then + interval.visits
    return DueReview(
        kind=kind,
        due_on=None if interval.days is None else counted_from + timedelta(days=interval.days),
        due_visits=due_visits,
        visits_left=None if due_visits is None else max(0, due_visits - visits_now),
    )
