"""The day sheet at ten thousand places and at a million, over the same sixty machines."""

from collections.abc import Callable
from datetime import datetime, time, timedelta

from bench import crowd, house
from bench.ground import step
from bench.measure import Found, no_collector, percentile, recorded, spread, timed
from scheduling import queries

MACHINES, TEACHERS, CROWD = 60, 60, 1_000
SMALL, LARGE = 10_000, 1_000_000
WARM_UP, COUNTED = 5, 60
QUERIES_GOAL, P95_GOAL, FLAT_GOAL = 12, 120, 1.2


def run() -> list[Found]:
    place = house.build(reformers=MACHINES, teachers=TEACHERS, clients=1)
    crowd.clients(place, CROWD)
    # The timetable ends on a Saturday; the sheet is of the Thursday before.
    saturday = place.monday + timedelta(days=12)
    start = datetime.combine(saturday, time(house.HOURS.start), place.house.zone)
    thursday = saturday - timedelta(days=2)

    def sheet() -> queries.DaySheet:
        return queries.day_sheet(thursday, now=place.now)

    crowd.lessons(place, 0, SMALL, start=start)
    crowd.settle()
    small, few = _seconds(sheet), _queries(sheet)
    step("filling the timetable to a million places", lambda: _fill(place, start))
    large, many = _seconds(sheet), _queries(sheet)
    if few != many:
        raise RuntimeError(f"the day sheet takes {few} queries at {SMALL} places and {many} at {LARGE}")
    on_it = len(sheet().places)
    if on_it != MACHINES * len(house.HOURS):
        raise RuntimeError(f"the sheet shows {on_it} places")
    flat = percentile(large, 50) / percentile(small, 50)
    return [
        Found("day sheet, 1 M ÷ 10 k places, p50", flat, "×", FLAT_GOAL),
        Found("day sheet, queries", many, "", QUERIES_GOAL),
        *spread(f"day sheet of {on_it} places, 1 M kept", large, goals={95: P95_GOAL}),
        *spread(f"day sheet of {on_it} places, 10 k kept", small),
    ]


def _fill(place: house.World, start: datetime) -> None:
    with crowd.indexes_laid_aside():
        crowd.lessons(place, SMALL, LARGE, start=start)
    crowd.settle()


def _seconds(sheet: Callable[[], object]) -> list[float]:
    with no_collector():
        return [timed(sheet) for _ in range(WARM_UP + COUNTED)][WARM_UP:]


def _queries(sheet: Callable[[], object]) -> int:
    with recorded() as statements:
        sheet()
    return len(statements)
