"""The reference tables as the tests read them: each file's rows as plain strings."""

import csv
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "fixtures" / "reference"


@cache
def table(name: str) -> tuple[dict[str, str], ...]:
    """The rows of `fixtures/reference/NAME.csv`, in file order, keyed by column."""
    with (FOLDER / f"{name}.csv").open(newline="", encoding="utf-8") as handle:
        return tuple(csv.DictReader(handle))


def tables() -> dict[str, list[dict[str, str]]]:
    """Every reference table, by file name without its ending; a fresh copy that a test may spoil."""
    return {path.stem: [dict(row) for row in table(path.stem)] for path in sorted(FOLDER.glob("*.csv"))}
