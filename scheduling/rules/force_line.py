"""A spring's line drawn: measured points and the force over the extension, in the units of a small picture."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 520, 260
LEFT, RIGHT, TOP, BOTTOM = 56, 16, 16, 44
STEPS = (1, 2, 2.5, 5, 10)


@dataclass(frozen=True)
class Tick:
    """A mark of an axis: where it stands and what it says."""

    at: float
    says: str


@dataclass(frozen=True)
class ForceLine:
    """Everything the picture is drawn from; `line` and `points` are pairs of picture units."""

    line: tuple[tuple[float, float], tuple[float, float]]
    points: tuple[tuple[float, float], ...]
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM
    width: int = WIDTH
    height: int = HEIGHT


def force_line(k: float, x0: float, points: Sequence[tuple[float, float]] = (), *, reach: float = 0.6) -> ForceLine:
    """The line `k (x + x0)` from rest to `reach` metres or the farthest of the (metre, newton) points."""
    far = max([reach, *(x for x, _ in points)])
    most = max([k * (far + x0), *(force for _, force in points), 1.0])
    step_x, step_f = _step(100 * far), _step(most)
    top_x = math.ceil(100 * far / step_x) * step_x / 100
    top_f = math.ceil(most / step_f) * step_f

    def place(x: float, force: float) -> tuple[float, float]:
        across = LEFT + (WIDTH - LEFT - RIGHT) * x / top_x
        up = HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * force / top_f
        return round(across, 1), round(up, 1)

    start = max(0.0, -x0)
    return ForceLine(
        line=(place(start, k * (start + x0)), place(far, k * (far + x0))),
        points=tuple(place(x, force) for x, force in points),
        across=tuple(
            Tick(place(n * step_x / 100, 0)[0], f"{n * step_x:g}") for n in range(_count(100 * top_x, step_x))
        ),
        up=tuple(Tick(place(0, n * step_f)[1], f"{n * step_f:g}") for n in range(_count(top_f, step_f))),
    )


def _count(top: float, step: float) -> int:
    return round(top / step) + 1


def _step(most: float) -> float:
    """A round step that gives four to eight marks."""
    rough = most / 6
    size = 10.0 ** math.floor(math.log10(rough))
    return next(step * size for step in STEPS if step * size >= rough)
