"""What can be put into a template: the series of each apparatus, and single exercises found by a word."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from programming import models
from programming.queries import repertoire as repertoire_queries
from programming.rules.lines import reps_words
from programming.rules.repertoire import ExerciseRow
from studio.rules import ApparatusKind

SHOWN = 40


@dataclass(frozen=True)
class Part:
    """One exercise on the shelf; `is_in` says that the template has it already."""

    row: ExerciseRow
    reps: str
    is_in: bool
    is_above: bool


@dataclass(frozen=True)
class Series:
    """A series with its parts in order; `fitting` counts those of the template's level that are not in yet."""

    kind: ApparatusKind
    name: str
    parts: tuple[Part, ...]
    is_open: bool

    @property
    def key(self) -> str:
        return f"{self.kind.value}.{self.name}"

    @property
    def fitting(self) -> int:
        return sum(not part.is_in and not part.is_above for part in self.parts)

    @property
    def left(self) -> int:
        return sum(not part.is_in for part in self.parts)


@dataclass(frozen=True)
class Shelf:
    """Series, or with a word the exercises that have it."""

    kind: str
    text: str
    series: tuple[Series, ...]
    found: tuple[Part, ...]
    more: int


def shelf(*, kind: str, text: str, level: int, used: Collection[str], opened: str) -> Shelf:
    """The shelf of one kind of apparatus, or of all, with one series opened by its key; one query."""
    rows = repertoire_queries.exercises()
    if words := text[:80].replace("\x00", "").split()[:6]:
        matching = [row for row in rows.values() if _has(row, words) and kind in ("", row.apparatus.value)]
        found = tuple(_part(row, level, used) for row in matching)
        return Shelf(kind, text, (), found[:SHOWN], max(0, len(found) - SHOWN))
    return Shelf(kind, "", _series(rows, kind, level, used, opened), (), 0)


def _has(row: ExerciseRow, words: Collection[str]) -> bool:
    text = (
        " ".join((row.id, row.name, row.series, row.family, row.start_position, *row.purpose)).replace("_", " ").lower()
    )
    return all(word.lower() in text for word in words)


def _part(row: ExerciseRow, level: int, used: Collection[str]) -> Part:
    return Part(row, reps_words(row, None), row.id in used, row.level > level)


def _series(
    rows: Mapping[str, ExerciseRow], kind: str, level: int, used: Collection[str], opened: str
) -> tuple[Series, ...]:
    found: dict[tuple[ApparatusKind, str], list[ExerciseRow]] = {}
    for row in rows.values():
        if kind in ("", row.apparatus.value):
            found.setdefault((row.apparatus, row.series), []).append(row)
    return tuple(
        Series(
            apparatus,
            name,
            tuple(_part(row, level, used) for row in sorted(parts, key=lambda row: row.position_in_series)),
            f"{apparatus.value}.{name}" == opened,
        )
        for (apparatus, name), parts in found.items()
    )


def kinds_practised() -> list[str]:
    """Kinds of apparatus that have exercises here; one query."""
    kinds = models.Exercise.objects.filter(retired_at=None).values_list("apparatus_kind", flat=True).distinct()
    return [kind.value for kind in ApparatusKind if kind.value in set(kinds)]
