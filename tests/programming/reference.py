"""The reference repertoire, read once for the tests of this app."""

from collections.abc import Sequence

from programming.rules.lines import Line, PlannedLine, resolved
from programming.rules.repertoire import ExerciseRow, from_tables
from programming.rules.timing import Times, times_from
from tests.reference import table, tables

REPERTOIRE: dict[str, ExerciseRow] = dict(from_tables(tables()).exercises)
TIMES: Times = times_from(table("session_time"))
# The nineteen rows of the worked foundation program, at 48.2 minutes.
FOUNDATION = [
    "R-FW1",
    "R-FW2",
    "R-FW3",
    "R-FW4",
    "R-HUN",
    "R-LB2",
    "R-LS4",
    "R-SM1",
    "R-SB1",
    "R-SB2",
    "R-SB3",
    "R-FRO",
    "R-LEG",
    "R-KN1",
    "R-RUN",
    "R-PEL",
    "T-01",
    "T-12",
    "C-01",
]


def planned(ids: Sequence[str]) -> list[PlannedLine]:
    return [PlannedLine(str(place), name) for place, name in enumerate(ids)]


def lines(*ids: str) -> tuple[Line, ...]:
    return resolved(planned(ids), REPERTOIRE)


def line(exercise_id: str, **plan: object) -> Line:
    return resolved([PlannedLine("1", exercise_id, **plan)], REPERTOIRE)[0]  # type: ignore[arg-type]
