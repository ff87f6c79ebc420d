"""Springs hooked side by side: force, work outward, calibration, and the label of an inventory.

Linear law `F(x) = sum k_i (x + x0_i)`; friction, inertia, rope angle and slope are left out. Newton, metre, joule.
The law was read for up to 100 % of a spring's free length (netto_springs, abstract); beyond it one may stay longer.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from studio.rules import Reason, Refused

CLASSES = ("light", "medium", "heavy")
GOOD_FIT = 0.99
ALIKE_WITHIN = 0.04
MOST_SPRINGS = 12
# N/m and m; uncalibrated defaults, the studio's own measurement replaces them (fixtures/reference/springs_default.csv).
USUAL = {"light": (100.0, 0.05), "medium": (200.0, 0.05), "heavy": (350.0, 0.05)}
# N/m, least and most that a class usually has (fixtures/reference/springs_default.csv, studio default).
USUAL_K = {"light": (60.0, 150.0), "medium": (150.0, 280.0), "heavy": (280.0, 500.0)}
# A line may miss zero at rest by the reading of a tape, in metres (from memory).
TAPE_M = 0.005
STANDARD_GRAVITY = 9.80665


@dataclass(frozen=True)
class SpringFact:
    """One spring: `k` in N/m, pre-extension `x0` in m, stiffness class, and whether its numbers were measured.

    `free_length` in m is what it measures unhooked, None when nobody has measured it. Raises ValueError when `k` is
    not positive.
    """

    k: float
    x0: float
    stiffness: str
    calibrated: bool = False
    free_length: float | None = None

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


def hooked(springs: Mapping[int, SpringFact], letters: str) -> dict[int, SpringFact]:
    """The springs of a set written in letters: of each class the first from the foot end, as many as are asked for.

    `springs` stand in their order on the machine. Fewer come back where the machine has fewer.
    """
    found: dict[int, SpringFact] = {}
    for name in reversed(CLASSES):
        of_class = [(key, fact) for key, fact in springs.items() if fact.stiffness == name]
        found.update(of_class[: letters.count(name[0].upper())])
    return found


def told(value: float, unit: str) -> str:
    """A figure for people, three digits that count and its unit: `293 N`, `17.5 N`, `0.86 J`."""
    size = abs(value)
    digits = 0 if size >= 99.5 else 1 if size >= 9.95 else 2
    return f"{value:,.{digits}f} {unit}".strip()


def overstretched(springs: Sequence[SpringFact], x: float) -> tuple[SpringFact, ...]:
    """Those that `x` metres would stretch by 100 % of their free length or more; an unmeasured length is not judged.

    The pre-extension counts as stretch, so the guard speaks rather early than late.
    """
    measured = ((spring, spring.free_length) for spring in springs)
    return tuple(spring for spring, length in measured if length is not None and x + spring.x0 >= length)


def newtons_of_mass(kilograms: float) -> float:
    """The pull of a hanging mass, at standard gravity 9.80665 m/s2 (ISO 80000-4)."""
    return kilograms * STANDARD_GRAVITY


def calibrated(springs: Sequence[SpringFact]) -> bool:
    """Whether a force of these springs may be shown without the word "uncalibrated"."""
    return all(spring.calibrated for spring in springs)


def calibration(points: Sequence[tuple[float, float]], *, stiffness: str = "") -> Calibration:
    """Least squares `F = a + k x` over (metres, newtons), `x0 = a / k`.

    Raises Refused with `too_few_points` when there are not two different extensions, `stiffness_not_positive` when the
    force does not grow. Warns with `poor_fit` below an R2 of 0.99, `below_zero_at_rest` when the line has the spring
    push at rest, and with a class named by `stiffness`, `unusual` outside of what that class usually has.
    """
    if len({x for x, _ in points}) < 2:
        says = "A calibration needs the force at two extensions at least."
        raise Refused(Reason("too_few_points", says, "points", "Four or more extensions are better."))
    k, a = _line(points)
    if not k > 0:
        says = "The force does not grow with the extension, so this is not a spring's line."
        raise Refused(Reason("stiffness_not_positive", says, "points", "Measure again, in metres and newtons."))
    r2 = _fit(points, k, a)
    return Calibration(k, a / k, r2, tuple(_doubts(k, a / k, r2, stiffness)))


def _doubts(k: float, x0: float, r2: float, stiffness: str) -> Iterator[Reason]:
    if r2 < GOOD_FIT:
        says = f"The points do not lie on a line (R2 {r2:.3f}, good from {GOOD_FIT})."
        yield Reason("poor_fit", says, "points", "Measure again, or keep it and look at the spring.")
    if x0 < -TAPE_M:
        says = f"By this line the spring pulls only from {-100 * x0:.1f} cm of extension on."
        yield Reason("below_zero_at_rest", says, "points", "Look where the extensions were counted from.")
    least, most = USUAL_K.get(stiffness, (0.0, float("inf")))
    if not least <= k <= most:
        says = f"{k:.0f} N/m is not usual for a {stiffness} spring ({least:.0f} to {most:.0f})."
        yield Reason("unusual", says, "points", "Look at the class, the units and the hook it hung from.")


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
