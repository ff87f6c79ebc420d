"""Exposure of a lesson (rule 12): the seconds spent in demands that have a ceiling. Ceilings are studio defaults."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from clients.rules.outcomes import Level
from programming.rules.lines import Line
from programming.rules.reference.faults import Row


@dataclass(frozen=True)
class Ceiling:
    """Seconds of one demand, summed over the lesson, or in its longest unbroken run of rows.

    `counts_for` are the levels of a client's limit that make it count; a demand to avoid is another rule's (V4).
    """

    demand: str
    seconds: float
    is_run: bool
    counts_for: frozenset[Level]


@dataclass(frozen=True)
class Exposure:
    """The seconds of one demand in a lesson, beside its ceiling."""

    demand: str
    seconds: float
    ceiling: Ceiling

    @property
    def is_over(self) -> bool:
        """Exactly the ceiling still passes."""
        return self.seconds > self.ceiling.seconds


def ceilings_from(rows: Sequence[Row]) -> tuple[Ceiling, ...]:
    """The ceilings from the rows of exposure_ceilings; KeyError or ValueError for a broken row."""
    return tuple(
        Ceiling(
            demand=row["demand"],
            seconds=float(row["ceiling_seconds"]),
            is_run="run" in row["per"],
            counts_for=frozenset(level for level in (Level.WATCH, Level.ADAPT) if level.value in row["applies_when"]),
        )
        for row in rows
    )


def exposure(
    lines: Sequence[Line], levels: Mapping[str, Level] | None, ceilings: Sequence[Ceiling]
) -> tuple[Exposure, ...]:
    """Seconds by demand, for those with a ceiling that counts for this client, in the order of the ceilings.

    Repetitions x side factor x tempo of the form performed, without pace, set-up or coaching. `levels` are the client's
    limits by demand; None, for a template without a client, sums every demand that has a ceiling.
    """
    counted = [one for one in ceilings if levels is None or levels.get(one.demand) in one.counts_for]
    return tuple(Exposure(one.demand, _seconds(lines, one), one) for one in counted)


def _seconds(lines: Sequence[Line], ceiling: Ceiling) -> float:
    running = longest = total = 0.0
    for line in lines:
        here = line.movement_seconds if ceiling.demand in line.demands else 0.0
        total += here
        running = running + here if ceiling.demand in line.demands else 0.0
        longest = max(longest, running)
    return longest if ceiling.is_run else total
