"""Wear of a spring: what it has pulled, its age, and what an eye or an ear found. A finding overrides every figure.

The figure is Miner's sum `D = sum n_j / N_j` with `N_j = N_ref (F_ref / F_j)^m` (miner1945, from memory). A million
cycles at the force of rated extension and m = 5 are assumptions, and the figure was never validated for these springs.
Looking every week, taking a doubtful spring out at once and replacing within two years are common practice, no source.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from scheduling.rules.springs import SpringFact

CYCLES_AT_RATED = 1_000_000
EXPONENT = 5
INSPECT_FROM = 0.5
REPLACE_FROM = 0.8
REPLACE_AFTER = timedelta(days=730)
LOOK_EVERY = timedelta(days=7)
# Rated extension of a spring whose free length nobody has measured (assumption).
ASSUMED_LENGTH_M = 0.60
DAYS_A_MONTH = 365.25 / 12


class Finding(StrEnum):
    """What an eye or an ear can find; the words stand beside each tick."""

    GAPS = "gaps"
    KINKS = "kinks"
    RUST = "rust"
    HOOKS = "hooks"
    NOISE = "noise"

    @property
    def words(self) -> str:
        return {
            "gaps": "gaps between the closed coils at rest",
            "kinks": "a kink",
            "rust": "rust",
            "hooks": "a worn or opening hook",
            "noise": "a noise when it pulls",
        }[self.value]


class Advice(StrEnum):
    """What is advised for a spring, strictest last."""

    KEEP = "keep"
    INSPECT = "inspect"
    REPLACE = "replace"
    TAKE_OUT = "take_out"

    @property
    def words(self) -> str:
        return {"keep": "in use", "inspect": "look at it", "replace": "replace it", "take_out": "take it out now"}[
            self.value
        ]


@dataclass(frozen=True)
class Strokes:
    """Cycles at one force in newtons."""

    cycles: int
    force: float


@dataclass(frozen=True)
class Judged:
    """The advice with its reason in words."""

    advice: Advice
    because: str


def rated_force(spring: SpringFact) -> float:
    """Newtons at rated extension: 100 % of the free length, of an assumed 0.60 m where it was not measured."""
    return spring.k * ((spring.free_length or ASSUMED_LENGTH_M) + spring.x0)


def life_at(force: float, *, rated: float) -> float:
    """Cycles that a spring lasts at `force` newtons, when it lasts a million at `rated`; no force, no end."""
    return CYCLES_AT_RATED * (rated / force) ** EXPONENT if force > 0 else float("inf")


def used_up(strokes: Iterable[Strokes], *, rated: float) -> float:
    """Miner's sum: 0 when new, 1 at the reckoned end of its life. Not validated for these springs."""
    return sum(one.cycles / life_at(one.force, rated=rated) for one in strokes)


def together(strokes: Iterable[Strokes]) -> Strokes:
    """All strokes as cycles at one force that uses a spring up as much: the mean of the fifth power, not of the force.

    No strokes are no cycles at no force.
    """
    some = [one for one in strokes if one.cycles]
    cycles = sum(one.cycles for one in some)
    if not cycles:
        return Strokes(0, 0.0)
    return Strokes(cycles, (sum(one.cycles * one.force**EXPONENT for one in some) / cycles) ** (1 / EXPONENT))


def months(since: date, on: date) -> float:
    """Age in months of 30.4 days."""
    return (on - since).days / DAYS_A_MONTH


def judge(
    used: float, *, fitted_on: date, on: date, findings: Collection[Finding] = (), looked_on: date | None = None
) -> Judged:
    """What is advised on a day: a finding first, then 0.8 used up or 730 days, then 0.5 used up and no look this week.

    `findings` are those of the last look, made on `looked_on`.
    """
    if findings:
        found = ", ".join(finding.words for finding in Finding if finding in findings)
        return Judged(Advice.TAKE_OUT, f"{found} was seen or heard; that overrides every figure")
    if on - fitted_on >= REPLACE_AFTER:
        return Judged(Advice.REPLACE, f"{months(fitted_on, on):.0f} months old, replaced from 24")
    if used >= REPLACE_FROM:
        return Judged(Advice.REPLACE, f"{used:.2f} used up, replaced from {REPLACE_FROM}")
    if used >= INSPECT_FROM and (looked_on is None or on - looked_on > LOOK_EVERY):
        return Judged(Advice.INSPECT, f"{used:.2f} used up, looked at every week from {INSPECT_FROM}")
    return Judged(Advice.KEEP, "")
