"""Springs hooked side by side: force, work outward, calibration, and the label of an inventory.

Linear law `F(x) = sum k_i (x + x0_i)`; friction, inertia, rope angle and slope are left out. Newton, metre, joule.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.rules import Reason, Refused

CLASSES = ("light", "medium", "heavy")
GOOD_FIT = 0.99
ALIKE_WITHIN = 0.04


@dataclass(frozen=True)
class SpringFact:
    """One spring: `k` in N/m, pre-extension `x0` in m, stiffness class, and whether its numbers were measured.

    Raises ValueError when `k` is not positive.
    """

    k: float
    x0: float
    stiffness: str
    calibrated: bool = False

    def __post_init__(self) -> None:
        if not self.k > 0:
            raise ValueError("a spring's stiffness is positive")


@dataclass(frozen=True)
class Calibration:
    """A line fitted to measurements: `k` in N/m, `x0` in m, `r2` of the fit; it may be kept despite `warnings`."""

    k: float
    x0: float
    r2: float
    warnings: tuple[Reason, ...] = ()


def force(springs: Sequence[SpringFact], x: float) -> float:
    """Newtons of all `springs` at an extension of `x` metres; no spring, no force."""
    return sum(spring.k * (x + spring.x0) for spring in springs)


def work_outward(springs: Sequence[SpringFact], start: float, end: float) -> float:
    """Joules of one stroke from `start` to `end` metres; a full repetition nets to zero, hence outward."""
    return sum(0.5 * spring.k * ((end + spring.x0) ** 2 - (start + spring.x0) ** 2) for spring in springs)


def mean_force(springs: Sequence[SpringFact], start: float, end: float) -> float:
    """Mean newtons over the travel: the force half way."""
    return force(springs, (start + end) / 2)


def calibrated(springs: Sequence[SpringFact]) -> bool:
    """Whether a force of these springs may be shown without the word "uncalibrated"."""
    return all(spring.calibrated for spring in springs)


def calibration(points: Sequence[tuple[float, float]]) -> Calibration:
    """Least squares `F = a + k x` over (metres, newtons), `x0 = a / k`.

    Raises Refused with `too_few_points` when there are not two different extensions, `stiffness_not_positive` when the
    force does not grow. Warns with `poor_fit` below an R2 of 0.99.
    """
    if len({x for x, _ in points}) < 2:
        says = "A calibration needs the force at two extensions at least."
        raise Refused(Reason("too_few_points", says, "points", "Four or more extensions are better."))
    k, a = _line(points)
    if not k > 0:
        says = "The force does not grow with the extension, so this is not a spring's line."
        raise Refused(Reason("stiffness_not_positive", says, "points", "Measure again, in metres and newtons."))
    r2 = _fit(points, k, a)
    warnings: tuple[Reason, ...] = ()
    if r2 < GOOD_FIT:
        says = f"The points do not lie on a line (R2 {r2:.3f}, good from {GOOD_FIT})."
        warnings = (Reason("poor_fit", says, "points", "Measure again, or keep it and look at the spring."),)
    return Calibration(k, a / k, r2, warnings)


def inventory_label(springs: Sequence[SpringFact]) -> str:
    """What hangs on a machine, lightest class first: "1L 2M 2H"; other classes follow by their first letter."""
    names = [spring.stiffness for spring in springs]
    others = sorted(set(names) - set(CLASSES))
    return " ".join(f"{names.count(name)}{name[:1].upper()}" for name in (*CLASSES, *others) if name in names)


def alike(one: Sequence[SpringFact], other: Sequence[SpringFact], *, within: float = ALIKE_WITHIN) -> bool:
    """Whether two machines carry the same springs: as many of each class, each pair's stiffness within 4 %."""
    left, right = (sorted(springs, key=lambda spring: (spring.stiffness, spring.k)) for springs in (one, other))
    if [spring.stiffness for spring in left] != [spring.stiffness for spring in right]:
        return False
    return all(abs(a.k - b.k) <= within * max(a.k, b.k) for a, b in zip(left, right, strict=True))


def _line(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    mean_x = sum(x for x, _ in points) / len(points)
    mean_f = sum(f for _, f in points) / len(points)
    spread = sum((x - mean_x) ** 2 for x, _ in points)
    k = sum((x - mean_x) * (f - mean_f) for x, f in points) / spread
    return k, mean_f - k * mean_x


def _fit(points: Sequence[tuple[float, float]], k: float, a: float) -> float:
    mean_f = sum(f for _, f in points) / len(points)
    total = sum((f - mean_f) ** 2 for _, f in points)
    missed = sum((f - a - k * x) ** 2 for x, f in points)
    return 1 - missed / total
