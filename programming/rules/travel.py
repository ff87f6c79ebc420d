"""How far a body pushes the carriage in lying footwork: two links, from hip to foot, against the foot bar.

Own geometry; no published table of carriage travel was found, so every result is an estimate. Metres and degrees.
Lengths of a body: the measured functional leg length, else a line on the stature by sex (ansur2), else ratios to the
stature (drillis1966, from memory). Thigh and shank of a known leg are its parts as the ratios have them.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from programming.rules.reference.faults import Row
from programming.rules.repertoire import ExerciseRow
from studio.rules import ApparatusKind, Reason, Refused

LEG = "functional_leg_length"
# Half the width of a 95 % interval, in standard errors of the estimate.
HALF_95 = 1.96
# Where nobody has measured the machine: assumptions of the house.
BAR_TO_REST_M, FOOT_ABOVE_HIP_M, TRACK_M = 0.95, 0.10, 0.95


@dataclass(frozen=True)
class Regression:
    """A leg in mm on the stature in mm, with its standard error of the estimate."""

    intercept: float
    slope: float
    error: float

    def at(self, stature: float) -> float:
        return self.intercept + self.slope * stature


@dataclass(frozen=True)
class Sizes:
    """Ratios to the stature, and by sex the mean leg as a ratio and the line on the stature."""

    thigh: float
    shank: float
    trunk: float
    leg: Mapping[str, float] = field(hash=False)
    lines: Mapping[str, Regression] = field(hash=False)

    def leg_ratio(self, sex: str) -> float:
        """The mean leg of that sex as a ratio to the stature; of both where no sex is given."""
        return self.leg[sex] if sex in self.leg else sum(self.leg.values()) / len(self.leg)


def sizes_from(ratios: Sequence[Row], lines: Sequence[Row]) -> Sizes:
    """From the rows of segment_ratios and leg_length_regression; KeyError when one is missing."""
    of_all = {row["segment"]: float(row["ratio_to_stature"]) for row in ratios if row["sex"] == "all"}
    legs = {row["sex"]: float(row["ratio_to_stature"]) for row in ratios if row["segment"] == LEG}
    found = {
        row["sex"]: Regression(float(row["intercept_mm"]), float(row["slope_per_mm"]), float(row["see_mm"]))
        for row in lines
        if row["measure"] == LEG
    }
    return Sizes(of_all["thigh"], of_all["shank"], of_all["trunk_shoulder_to_hip"], legs, found)


class RestsOn(StrEnum):
    """Where the length of a leg comes from, best first."""

    MEASURED = "measured"
    LINE = "line"
    RATIO = "ratio"

    @property
    def words(self) -> str:
        return {
            "measured": "from the measured leg",
            "line": "estimated from height and sex",
            "ratio": "estimated from height by a ratio",
        }[self.value]


@dataclass(frozen=True)
class Legs:
    """One body lying: thigh, shank, and shoulder rest to hip, in metres.

    `leg` is the functional leg length they come from; the true one lies within `error` of it in 95 of 100 people of
    the soldiers measured (0 for a measured leg). A ratio says nothing of its spread, so the wider of the two lines
    lends it.
    """

    thigh: float
    shank: float
    trunk: float
    leg: float
    error: float
    rests_on: RestsOn

    @property
    def length(self) -> float:
        return self.thigh + self.shank

    def scaled(self, leg: float) -> "Legs":
        """The same trunk with a leg of another functional length."""
        by = leg / self.leg
        return Legs(self.thigh * by, self.shank * by, self.trunk, leg, self.error, self.rests_on)


def legs_of(sizes: Sizes, *, stature_mm: float | None, leg_mm: float | None, sex: str = "") -> Legs | None:
    """A body's lengths from what is known of it; None when neither height nor leg was noted."""
    if leg_mm is not None:
        as_if = leg_mm / sizes.leg_ratio(sex)
        return _legs(sizes, as_if, stature_mm or as_if, leg_mm, 0.0, RestsOn.MEASURED)
    if stature_mm is None:
        return None
    if sex in sizes.lines:
        line = sizes.lines[sex]
        leg = line.at(stature_mm)
        return _legs(sizes, leg / sizes.leg_ratio(sex), stature_mm, leg, HALF_95 * line.error, RestsOn.LINE)
    widest = HALF_95 * max(line.error for line in sizes.lines.values())
    return _legs(sizes, stature_mm, stature_mm, stature_mm * sizes.leg_ratio(""), widest, RestsOn.RATIO)


def _legs(sizes: Sizes, as_if: float, stature: float, leg: float, error: float, rests_on: RestsOn) -> Legs:
    """`as_if` is the stature, in mm, that an average body with these legs would have."""
    thigh, shank, trunk = sizes.thigh * as_if, sizes.shank * as_if, sizes.trunk * stature
    return Legs(thigh / 1000, shank / 1000, trunk / 1000, leg / 1000, error / 1000, rests_on)


@dataclass(frozen=True)
class Bench:
    """A machine for lying footwork: foot bar to shoulder rest with the carriage home, foot contact above the hip, and
    the length of the track, in metres. `assumed` names the lengths nobody has measured."""

    bar_to_rest: float = BAR_TO_REST_M
    foot_above_hip: float = FOOT_ABOVE_HIP_M
    track: float = TRACK_M
    assumed: tuple[str, ...] = ("foot bar to shoulder rest", "foot bar above the hip", "length of the track")


def bench_of(bar_to_rest: float | None, foot_above_hip: float | None, track: float | None) -> Bench:
    """What was measured, with the assumption of the house for each length that was not."""
    given = (bar_to_rest, foot_above_hip, track)
    usual = Bench()
    assumed = tuple(name for name, value in zip(usual.assumed, given, strict=True) if value is None)
    return Bench(
        BAR_TO_REST_M if bar_to_rest is None else bar_to_rest,
        FOOT_ABOVE_HIP_M if foot_above_hip is None else foot_above_hip,
        TRACK_M if track is None else track,
        assumed,
    )


@dataclass(frozen=True)
class Travel:
    """From knees bent with the carriage home to straight legs. `start` and `end` are hip to bar, level, in metres."""

    start: float
    end: float
    bend: float
    metres: float

    @property
    def is_stopped(self) -> bool:
        """Whether the track ends before the legs are straight."""
        return self.metres < self.end - self.start


def travel(legs: Legs, bench: Bench) -> Travel:
    """The carriage's travel, at most the track. The foot's own length adds alike at both ends and is left out.

    Raises Refused `too_close` when no bend of the knees fits into the space, `out_of_reach` when straight legs do not
    reach the bar.
    """
    start, up = bench.bar_to_rest - legs.trunk, bench.foot_above_hip
    reach = math.hypot(start, up)
    if start <= 0 or reach < abs(legs.thigh - legs.shank):
        raise Refused(
            Reason("too_close", "This body does not fit between the bar and the shoulder rests.", "bar_to_rest")
        )
    end = math.sqrt(max(0.0, legs.length**2 - up**2))
    if end <= start:
        raise Refused(Reason("out_of_reach", "Straight legs do not reach the foot bar.", "bar_to_rest"))
    return Travel(start, end, 180 - _inner_angle(legs, reach), min(end - start, bench.track))


def _inner_angle(legs: Legs, reach: float) -> float:
    """Degrees between thigh and shank when hip and foot are `reach` apart; 180 is a straight leg."""
    cosine = (legs.thigh**2 + legs.shank**2 - reach**2) / (2 * legs.thigh * legs.shank)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def bar_to_rest_for(legs: Legs, bend: float, *, foot_above_hip: float) -> float:
    """Foot bar to shoulder rest, in metres, at which the knees start bent by `bend` degrees.

    Raises Refused `too_close` when so deep a bend brings the foot nearer to the hip than the bar is high.
    """
    square = legs.thigh**2 + legs.shank**2 - 2 * legs.thigh * legs.shank * math.cos(math.radians(180 - bend))
    if square <= foot_above_hip**2:
        raise Refused(Reason("too_close", "No stop gives so deep a bend at this height of the bar.", "bend"))
    return math.sqrt(square - foot_above_hip**2) + legs.trunk


@dataclass(frozen=True)
class TravelSpan:
    """The travel in metres with the shortest and longest that the error of the leg allows, all the same for a
    measured leg."""

    least: float
    metres: float
    most: float


def travel_span(legs: Legs, bench: Bench) -> TravelSpan:
    """Raises Refused as `travel` does; a shorter leg that would not reach the bar travels nothing."""
    found = travel(legs, bench).metres
    if not legs.error:
        return TravelSpan(found, found, found)
    return TravelSpan(
        _travel_or(0.0, legs.scaled(legs.leg - legs.error), bench),
        found,
        _travel_or(found, legs.scaled(legs.leg + legs.error), bench),
    )


def _travel_or(otherwise: float, legs: Legs, bench: Bench) -> float:
    try:
        return travel(legs, bench).metres
    except Refused:
        return otherwise


def is_lying_footwork(row: ExerciseRow) -> bool:
    """Whether a row is pressed out from bent knees against the foot bar, so that the legs make its travel."""
    return _lies_at_the_bar(row) and "knee_flex_deep" in row.demands


def is_held_out(row: ExerciseRow) -> bool:
    """Whether a row works at the bar with legs that stay straight: its strokes are the ankle's, small ones."""
    return _lies_at_the_bar(row) and "knee_flex_deep" not in row.demands


def _lies_at_the_bar(row: ExerciseRow) -> bool:
    return (
        row.apparatus is ApparatusKind.REFORMER
        and row.family == "footwork"
        and row.start_position == "supine"
        and row.setup.get("footbar") == "up"
    )
