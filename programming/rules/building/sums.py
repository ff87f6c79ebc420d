"""The sums of a draft, line by line and whole: time, changes, boxes, rounding and opening, exposure."""

from collections.abc import Sequence
from dataclasses import dataclass

from programming.rules.exposure import Ceiling, Exposure, exposure
from programming.rules.flow import Flow, flow
from programming.rules.lines import Line
from programming.rules.timing import (
    Fit,
    Pace,
    SetUpChanges,
    Slot,
    Times,
    changes_between,
    line_seconds,
    program_seconds,
)


@dataclass(frozen=True)
class LineSums:
    """When a line begins and what it takes, in seconds; what is changed at the machine before it."""

    begins: float
    seconds: float
    change: SetUpChanges


@dataclass(frozen=True)
class Sums:
    """Of a whole lesson. `seconds` has arrival and close in it; `spare` is under zero when the lesson is too long."""

    lines: tuple[LineSums, ...]
    seconds: float
    slot: float
    fit: Fit
    flow: Flow
    exposure: tuple[Exposure, ...]

    @property
    def spare(self) -> float:
        return self.slot - self.seconds

    @property
    def set_up(self) -> int:
        """Changes of foot bar, headrest, box and hold, of position, and of apparatus: all but springs."""
        return self.flow.changes.total - self.flow.changes.springs


def sums(
    lines: Sequence[Line],
    times: Times,
    *,
    minutes: int,
    pace: Pace = Pace.WORKING,
    ceilings: Sequence[Ceiling] = (),
) -> Sums:
    """All sums of a draft. A template has no client, so every demand that has a ceiling is summed."""
    seconds, slot = program_seconds(lines, times, pace=pace), Slot(minutes * 60)
    return Sums(
        lines=_each(lines, times, pace),
        seconds=seconds,
        slot=slot.seconds,
        fit=slot.check(seconds, times),
        flow=flow(lines, times, pace=pace),
        exposure=exposure(lines, None, ceilings),
    )


def _each(lines: Sequence[Line], times: Times, pace: Pace) -> tuple[LineSums, ...]:
    out: list[LineSums] = []
    clock = times.arrival
    for place, line in enumerate(lines):
        seconds = line_seconds(line, times, pace=pace)
        change = changes_between(lines[place - 1], line) if place else SetUpChanges()
        out.append(LineSums(clock, seconds, change))
        clock += seconds
    return tuple(out)
