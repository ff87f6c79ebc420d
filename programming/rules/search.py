"""Looking through the repertoire: by words, apparatus, series, aim, level, demand and position."""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from programming.rules.repertoire import ExerciseRow

LONGEST, MOST_WORDS = 80, 6


class Asking(StrEnum):
    """How a row may stand to a demand: asks for it in some form, even in its easier form, or in neither."""

    ASKS = "asks"
    ALWAYS = "always"
    NEVER = "never"


@dataclass(frozen=True)
class Wanted:
    """What is looked for; empty means anything. `level` is one level, or with `up_to` that level and those below."""

    words: str = ""
    apparatus: str = ""
    series: str = ""
    aim: str = ""
    level: int = 0
    up_to: bool = False
    demand: str = ""
    asking: Asking = Asking.ASKS
    position: str = ""

    @property
    def is_anything(self) -> bool:
        return self == Wanted(asking=self.asking, up_to=self.up_to)


def found(rows: Iterable[ExerciseRow], wanted: Wanted) -> list[ExerciseRow]:
    """The rows that have all that is wanted, in the order given; each word must stand somewhere in a row's words."""
    words = plain(wanted.words[:LONGEST]).split()[:MOST_WORDS]
    return [row for row in rows if _fits(row, wanted) and _says(row, words)]


def plain(text: str) -> str:
    """Small letters without accents, so that what is typed in a hurry is found."""
    parts = unicodedata.normalize("NFKD", text.replace("\x00", "").replace("_", " ").casefold())
    return "".join(letter for letter in parts if not unicodedata.combining(letter))


def asks(row: ExerciseRow, demand: str, asking: Asking) -> bool:
    if asking is Asking.NEVER:
        return demand not in row.demands and demand not in row.regression_adds
    if asking is Asking.ALWAYS:
        return demand in row.demands and demand in row.regressed_demands
    return demand in row.demands


def _fits(row: ExerciseRow, wanted: Wanted) -> bool:
    same = (
        (wanted.apparatus, row.apparatus.value),
        (wanted.series, row.series),
        (wanted.position, row.start_position),
    )
    if any(asked and asked != has for asked, has in same):
        return False
    if wanted.aim and wanted.aim not in row.purpose:
        return False
    if wanted.level and not (row.level <= wanted.level if wanted.up_to else row.level == wanted.level):
        return False
    return not wanted.demand or asks(row, wanted.demand, wanted.asking)


def _says(row: ExerciseRow, words: list[str]) -> bool:
    if not words:
        return True
    told = (row.id, row.name, row.series, row.family, row.start_position, *row.purpose, row.note, row.usual_regression)
    text = plain(" ".join(told))
    return all(word in text for word in words)
