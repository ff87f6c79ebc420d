"""What a benchmark finds: named values, some with a goal, and the clock they are taken with."""

import gc
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import connection

AT_MOST, AT_LEAST, EXACTLY = "≤", "≥", "="


@dataclass(frozen=True)
class Found:
    """One measured value. `goal` None means that it is told for information only."""

    what: str
    value: float
    unit: str
    goal: float | None = None
    how: str = AT_MOST

    @property
    def met(self) -> bool | None:
        if self.goal is None:
            return None
        return {
            AT_MOST: self.value <= self.goal,
            AT_LEAST: self.value >= self.goal,
            EXACTLY: self.value == self.goal,
        }[self.how]


def percentile(values: list[float], percent: float) -> float:
    """The value that `percent` of `values` do not exceed (nearest rank)."""
    ranked = sorted(values)
    return ranked[max(0, -(-len(ranked) * percent // 100).__int__() - 1)]


def spread(what: str, seconds: list[float], *, goals: dict[float, float] | None = None) -> list[Found]:
    """p50, p95 and p99 in milliseconds, with goals by percentile."""
    goals = goals or {}
    return [
        Found(f"{what}, p{percent:g}", 1000 * percentile(seconds, percent), "ms", goals.get(percent))
        for percent in (50, 95, 99)
    ]


def timed(deed: Callable[[], Any]) -> float:
    start = time.perf_counter()
    deed()
    return time.perf_counter() - start


@contextmanager
def no_collector() -> Iterator[None]:
    """Rounds of the garbage collector fall between the timed parts, not into them."""
    gc.collect()
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


@dataclass(frozen=True)
class Statement:
    sql: str
    params: Any


@contextmanager
def recorded() -> Iterator[list[Statement]]:
    """Every statement the block sends by Django's connection, savepoints too, in order."""
    kept: list[Statement] = []

    def keep(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
        kept.append(Statement(sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(keep):
        yield kept
