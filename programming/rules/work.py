"""What springs ask of one person: force at rest and at full travel, work outward a repetition and a set, and how that
compares with last time.

Work outward only: a full repetition nets to zero, and holding and the way back cost what no spring sees, so no energy
of a body is ever told. Newton, metre, joule.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from programming.rules import travel as travels
from programming.rules.repertoire import ExerciseRow, SpringEffect
from programming.rules.springs import felt
from scheduling.rules.springs import (
    ALIKE_WITHIN,
    SpringFact,
    alike,
    calibrated,
    force,
    mean_force,
    overstretched,
    work_outward,
)

# The stroke that springs are shown for where nobody's own is known: the extension of the reference's table of springs.
USUAL_STROKE_M = 0.40
SHORTEST_M, LONGEST_M = 0.02, 1.50


class StrokeOf(StrEnum):
    """What makes the stroke that is reckoned with."""

    LEGS = "legs"
    HELD = "held"
    SEEN = "seen"
    USUAL = "usual"
    STILL = "still"


@dataclass(frozen=True)
class Stroke:
    """A stroke in metres; `least` and `most` are its 95 % span where it is estimated, else equal to it."""

    of: StrokeOf
    metres: float
    least: float
    most: float

    @classmethod
    def sure(cls, of: StrokeOf, metres: float) -> "Stroke":
        return cls(of, metres, metres, metres)


def stroke_for(row: ExerciseRow, legs: travels.Legs | None, bench: travels.Bench, seen: float | None = None) -> Stroke:
    """The stroke of a row: seen by the teacher, made by the legs in lying footwork, none where springs only hold still,
    else the usual one.

    Raises Refused as `travel.travel` does.
    """
    if row.spring_effect is SpringEffect.FIX:
        return Stroke.sure(StrokeOf.STILL, 0.0)
    if seen is not None:
        return Stroke.sure(StrokeOf.SEEN, seen)
    if legs is not None and (travels.is_lying_footwork(row) or travels.is_held_out(row)):
        span = travels.travel_span(legs, bench)
        of = StrokeOf.LEGS if travels.is_lying_footwork(row) else StrokeOf.HELD
        return Stroke(of, span.metres, span.least, span.most)
    return Stroke.sure(StrokeOf.USUAL, USUAL_STROKE_M)


@dataclass(frozen=True)
class Work:
    """One line's springs over its stroke. `strokes` are those of a set: repetitions, times two where both sides work.

    `share` is the part of the springs' force that arrives where the body presses (a chair's pedal), 1 elsewhere.
    """

    springs: tuple[SpringFact, ...]
    stroke: Stroke
    strokes: int
    share: float = 1.0

    @property
    def at_rest(self) -> float:
        return self.share * force(self.springs, 0.0)

    @property
    def at_end(self) -> float:
        return self.share * force(self.springs, self.stroke.metres)

    @property
    def mean(self) -> float:
        """Newtons of each spring together over the stroke, at the springs."""
        return mean_force(self.springs, 0.0, self.stroke.metres)

    @property
    def a_repetition(self) -> float | None:
        """Joules outward; None where there is no stroke, or only a small one of the ankle."""
        return self._work(self.stroke.metres)

    @property
    def a_set(self) -> float | None:
        once = self.a_repetition
        return None if once is None else once * self.strokes

    @property
    def span(self) -> tuple[float, float] | None:
        """Least and most joules of a repetition where the stroke is estimated; None where it is sure."""
        if not self.has_work or self.stroke.least == self.stroke.most:
            return None
        return (
            work_outward(self.springs, 0.0, self.stroke.least),
            work_outward(self.springs, 0.0, self.stroke.most),
        )

    @property
    def has_work(self) -> bool:
        return bool(self.springs) and self.stroke.of not in (StrokeOf.STILL, StrokeOf.HELD)

    @property
    def is_calibrated(self) -> bool:
        return calibrated(self.springs)

    @property
    def overstretched(self) -> tuple[SpringFact, ...]:
        """Springs that full travel stretches by their whole free length or more; unmeasured ones are not judged."""
        return overstretched(self.springs, self.stroke.metres)

    def _work(self, metres: float) -> float | None:
        return work_outward(self.springs, 0.0, metres) if self.has_work else None


class Change(StrEnum):
    """How the springs of today compare with those of last time."""

    SAME = "same"
    ALIKE = "alike"
    MORE = "more"
    LESS = "less"


@dataclass(frozen=True)
class Compared:
    """Work (or, where nothing moves, force) of today against last time, over today's stroke; `percent` is rounded."""

    change: Change
    percent: int
    words: str


def compared(now: Sequence[SpringFact], then: Sequence[SpringFact], stroke: Stroke, effect: SpringEffect) -> Compared:
    """Both sets over the same stroke, so that what differs is the springs. Within 4 % they count as the same.

    Neither may be empty.
    """
    before, after = _measure(then, stroke), _measure(now, stroke)
    percent = round(100 * (after - before) / before) if before > 0 else 0
    if alike(now, then):
        return Compared(Change.SAME, percent, "the same springs")
    if abs(after - before) <= ALIKE_WITHIN * max(after, before):
        return Compared(Change.ALIKE, percent, "other springs, the same within 4 %")
    change = Change.MORE if after > before else Change.LESS
    what = "force" if stroke.of in (StrokeOf.STILL, StrokeOf.HELD) else "work outward"
    size = f"{abs(percent)} % {change.value} {what}"
    feels = felt(effect, 1 if after > before else -1)
    return Compared(change, percent, f"{size}: {feels}" if feels else size)


def _measure(springs: Sequence[SpringFact], stroke: Stroke) -> float:
    if stroke.of in (StrokeOf.STILL, StrokeOf.HELD):
        return force(springs, stroke.metres)
    return work_outward(springs, 0.0, stroke.metres)
