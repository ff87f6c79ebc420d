"""What goes on paper and into files: the rows a client may take home, and a log as a table for a spreadsheet."""

import csv
import io
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from clients.rules.importing import guarded
from clients.rules.outcomes import Level
from programming.rules.lines import reps_words
from programming.rules.marks import Standing
from programming.rules.repertoire import ExerciseRow
from programming.rules.timing import planned_seconds
from studio.rules import ApparatusKind

# Alone once learned: the supervision figure of a row that may be done at home (common practice, no source).
ALONE = 1
LEARNED = (Standing.OWNED, Standing.WORKING)
AT_HOME = (ApparatusKind.MAT,)
MOST_AT_HOME = 8

POSITIONS = {
    "supine": "on your back",
    "prone": "on your front",
    "seated": "sitting",
    "side-lying": "on your side",
    "quadruped": "on hands and knees",
    "kneeling": "kneeling",
    "standing": "standing",
}


@dataclass(frozen=True)
class HomeRow:
    """An exercise for home in the form it is done in; nothing here tells why the form is another one."""

    exercise_id: str
    name: str
    position: str
    reps: str
    tempo: int
    form: str
    seconds: float
    standing: Standing


def home_row(row: ExerciseRow, standing: Standing, levels: Mapping[str, Level]) -> HomeRow | None:
    """The row as it may go home with these limits: its own form or the usual easier one; None for none.

    At home nobody watches: what has to be adapted counts like what has to be avoided.
    """
    if row.apparatus not in AT_HOME or row.supervision > ALONE or standing not in LEARNED:
        return None
    bound = {demand for demand, level in levels.items() if level in (Level.AVOID, Level.ADAPT)}
    if not row.demands & bound:
        form = ""
    elif row.usual_regression and not row.regressed_demands & bound:
        form = row.usual_regression
    else:
        return None
    return HomeRow(
        exercise_id=row.id,
        name=row.name,
        position=POSITIONS.get(row.start_position, ""),
        reps=reps_words(row, None),
        tempo=max(1, round(row.tempo_seconds_per_rep)),
        form=form,
        seconds=planned_seconds(row),
        standing=standing,
    )


def home_rows(
    rows: Iterable[ExerciseRow], standings: Mapping[str, Standing], levels: Mapping[str, Level]
) -> tuple[HomeRow, ...]:
    """What a client may take home, owned ones first, each in the order of the repertoire."""
    found = (home_row(row, standings[row.id], levels) for row in rows if row.id in standings)
    return tuple(sorted((row for row in found if row), key=lambda row: row.standing is not Standing.OWNED))


Cell = str | int | float | None


def table_file(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """A CSV file that no spreadsheet runs a cell of: text that begins like a formula is kept as text."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow([guarded(cell) for cell in header])
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return text.getvalue()


def _cell(cell: Cell) -> str | int | float:
    if cell is None:
        return ""
    return guarded(cell) if isinstance(cell, str) else cell


def unknown(chosen: Collection[str], offered: Collection[HomeRow]) -> list[str]:
    """What was chosen and may not go home."""
    return sorted(set(chosen) - {row.exercise_id for row in offered})
