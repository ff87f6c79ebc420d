"""When somebody who was away is asked about her health again."""

from collections.abc import Mapping
from datetime import date

from clients.rules.reference import ReviewInterval

QUICK, FULL = "quick", "full"
# The rows of the intervals whose days count from a first day of absence, longest first.
ABSENCES = (("absence_long", FULL), ("absence_middle", QUICK))


def asks_again(
    *,
    last_visit: date | None,
    told_on: date,
    on: date,
    intervals: Mapping[str, ReviewInterval],
    whole_on: date | None = None,
) -> str:
    """Which form an absence asks for on the day: "full", "quick" or "" for none.

    `told_on` is the day on which she last answered any form, `whole_on` the day of the last whole one (None: the
    same). Somebody who was never here is not absent. Raises KeyError when the intervals lack the rows of absence.
    """
    if last_visit is None:
        return ""
    away = {QUICK: (on - max(last_visit, told_on)).days, FULL: (on - max(last_visit, whole_on or told_on)).days}
    for item, kind in ABSENCES:
        days = intervals[item].days
        if days is not None and away[kind] >= days:
            return kind
    return ""
