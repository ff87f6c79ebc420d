"""Up a level on one apparatus: when most of the level below is clean, the series flows, and a teacher signs."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil

from programming.rules.absence import Recheck, Return, after_absence
from programming.rules.progress import CLEAN_SCORE, HIGH_LEVEL
from programming.rules.reference.faults import Row
from programming.rules.repertoire import ExerciseRow
from studio.rules import ApparatusKind, Reason

# Common practice, no source: programs, section 10.
SHARE = Fraction(4, 5)
FLOWS_SCORE = 5
HIGHEST = 5
REASON_MOST = 200


@dataclass(frozen=True)
class LevelCheck:
    """How far a client is on the level she is signed for. `open_rows` are what her limits leave of it.

    `clean` of them scored 4 or more when last scored, `flowing` 5: clean at pace with its transition. `missing` are
    the ids that are not clean yet.
    """

    kind: ApparatusKind
    level: int
    open_rows: int
    clean: int
    flowing: int
    missing: tuple[str, ...]

    @property
    def needed(self) -> int:
        """How many of the rows have to be clean: four of five, rounded up."""
        return ceil(SHARE * self.open_rows)

    @property
    def is_met(self) -> bool:
        return self.clean >= self.needed

    @property
    def onward(self) -> int | None:
        """The next level; None above the highest."""
        return self.level + 1 if self.level < HIGHEST else None


def is_open(row: ExerciseRow, avoided: Collection[str]) -> bool:
    """Whether the row or its usual easier form is free of what has to be avoided."""
    return not row.demands & set(avoided) or not row.regressed_demands & set(avoided)


def check(
    kind: ApparatusKind,
    level: int,
    rows: Iterable[ExerciseRow],
    last_scores: Mapping[str, int],
    *,
    avoided: Collection[str] = (),
) -> LevelCheck:
    """The rows of `level` on `kind` against the last score of each; what her limits block is not counted."""
    counted = [row.id for row in rows if row.apparatus is kind and row.level == level and is_open(row, avoided)]
    clean = [key for key in counted if last_scores.get(key, 0) >= CLEAN_SCORE]
    return LevelCheck(
        kind=kind,
        level=level,
        open_rows=len(counted),
        clean=len(clean),
        flowing=sum(last_scores.get(key, 0) >= FLOWS_SCORE for key in counted),
        missing=tuple(key for key in counted if key not in clean),
    )


@dataclass(frozen=True)
class Signing:
    """A teacher's wish to sign a level; `teaches` is how far she is cleared on that apparatus, 0 when not at all."""

    wanted: int
    flows: bool
    reason: str
    teaches: int


def signing_refusals(asked: Signing, found: LevelCheck) -> list[Reason]:
    """Why the level may not be signed now; empty when it may. Going down is always open to whoever teaches it."""
    if not 1 <= asked.wanted <= HIGHEST:
        return [Reason("level_range", "A level is 1 to 5.", "level", "1 to 5")]
    if len(asked.reason) > REASON_MOST:
        return [Reason("too_long", "That is too long.", "reason", f"at most {REASON_MOST} signs")]
    if asked.teaches < asked.wanted:
        says = f"Level {asked.wanted} on the {found.kind.value} is signed by somebody who teaches it."
        return [
            Reason(
                "not_cleared", says, "level", f"up to level {asked.teaches}" if asked.teaches else "a teacher who is"
            )
        ]
    if asked.wanted <= found.level or asked.reason.strip():
        return []
    reasons = []
    if asked.wanted > found.level + 1 or not found.is_met:
        says = (
            f"{found.clean} of {found.open_rows} exercises of level {found.level} are clean; {found.needed} are asked."
        )
        reasons.append(Reason("not_yet", says, "reason", "sign it all the same with a reason, such as years elsewhere"))
    if not asked.flows:
        says = "The series is done with its transitions before the next level is signed."
        reasons.append(Reason("transitions", says, "flows", "the tick when you have seen it, or a reason"))
    return reasons


def is_senior(teaches: int, level: int) -> bool:
    """Whether a teacher cleared so far on an apparatus may grant an exercise of a level (common practice)."""
    return teaches >= max(HIGH_LEVEL, level)


def coming_back(days: Sequence[date], on: date, intervals: Sequence[Row]) -> tuple[Return, int]:
    """Rule 15 on a day: what the last long absence asks, and the lessons taught since it; `days` are her lessons'.

    A return is over when as many lessons were taught since as it asks for; then nothing is asked.
    """
    taught = sorted(day for day in set(days) if day < on)
    ends = [*taught, on]
    for at in range(len(ends) - 1, 0, -1):
        back, since = after_absence((ends[at] - ends[at - 1]).days, intervals), len(taught) - at
        if since < back.lessons or (back.recheck is Recheck.FULL and not since):
            return back, since
    return Return(), len(taught)
