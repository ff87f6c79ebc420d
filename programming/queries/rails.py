"""The spring rail of a program, as the look draws it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from programming.rules import rail
from programming.rules.marks import Decision
from programming.rules.springs import SpringSet
from programming.rules.timing import Times

if TYPE_CHECKING:
    from programming.queries.programs import ProgramLine

# Percent of the rail left free between two brackets.
BRACKET_GAP = 0.36


@dataclass(frozen=True)
class RailLine:
    start: float
    width: float
    strands: str
    kind: str


@dataclass(frozen=True)
class RailPart:
    name: str
    start: float
    width: float


@dataclass(frozen=True)
class RailView:
    """The rail as the look draws it, and in words."""

    lines: tuple[RailLine, ...]
    parts: tuple[RailPart, ...]
    minutes: int
    told: str


def rail_of(lines: Sequence[ProgramLine], minutes: int, times: Times) -> RailView:
    """The spring rail of a lesson of so many minutes."""
    drawn = [
        rail.RailLine(
            planned_id=str(line.no),
            label=line.name,
            group=line.group,
            apparatus=line.apparatus,
            decision=line.decision,
            seconds=line.seconds,
            springs=SpringSet.of(line.springs) if line.springs else None,
        )
        for line in lines
    ]
    whole = rail.rail(drawn, slot_seconds=minutes * 60, arrival=times.arrival, close=times.close)
    segments = tuple(
        RailLine(segment.start, segment.width, line.springs, segment.kind.value)
        for segment, line in zip(whole.segments, lines, strict=True)
    )
    parts = tuple(RailPart(one.label, one.start, max(one.width - BRACKET_GAP, 0.1)) for one in whole.brackets)
    return RailView(segments, parts, round(whole.minutes), _told(lines, minutes))


def _told(lines: Sequence[ProgramLine], minutes: int) -> str:
    counts = [(word, sum(line.decision is word for line in lines)) for word in Decision]
    words = ", ".join(f"{count} {word.words}" for word, count in counts if count)
    return (
        f"The program as a spring rail: the rail is {minutes} minutes long; under each line hang as many strands as "
        f"springs. {words}. The table says the same in words."
    )
