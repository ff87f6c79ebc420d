"""Spans of time: start in, end out, so that back-to-back lessons never touch."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


@dataclass(frozen=True, order=True)
class Span:
    """A half-open span `[start, end)` of two aware instants, kept in UTC.

    Raises ValueError when a bound is naive or the span is empty.
    """

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        if self.start.tzinfo is None or self.end.tzinfo is None:
            raise ValueError("a span needs instants that carry their zone")
        # Python compares two times of one zone by their wall reading, which is wrong in the hour that comes twice.
        object.__setattr__(self, "start", self.start.astimezone(UTC))
        object.__setattr__(self, "end", self.end.astimezone(UTC))
        if not self.start < self.end:
            raise ValueError("a span ends after it starts")

    @property
    def length(self) -> timedelta:
        """Elapsed time, also across a clock change."""
        return self.end - self.start

    @property
    def minutes(self) -> float:
        return self.length.total_seconds() / 60

    def overlaps(self, other: "Span") -> bool:
        return self.start < other.end and other.start < self.end

    def contains(self, other: "Span") -> bool:
        return self.start <= other.start and other.end <= self.end

    def common(self, other: "Span") -> "Span | None":
        """The part both share, or None."""
        start, end = max(self.start, other.start), min(self.end, other.end)
        return Span(start, end) if start < end else None


def merged(spans: Iterable[Span]) -> list[Span]:
    """The same instants as `spans`, as the fewest spans in order; touching ones become one."""
    out: list[Span] = []
    for span in sorted(spans):
        if out and span.start <= out[-1].end:
            out[-1] = Span(out[-1].start, max(out[-1].end, span.end))
        else:
            out.append(span)
    return out


def covered(span: Span, by: Iterable[Span]) -> bool:
    """Whether every instant of `span` lies in one of `by`; touching ones cover together."""
    return any(other.contains(span) for other in merged(by))


def without(span: Span, taken: Iterable[Span]) -> list[Span]:
    """What is left of `span` once every span of `taken` is cut out, in order."""
    left: list[Span] = []
    start = span.start
    for other in merged(taken):
        if other.end <= start or other.start >= span.end:
            continue
        if start < other.start:
            left.append(Span(start, other.start))
        start = max(start, other.end)
    if start < span.end:
        left.append(Span(start, span.end))
    return left
