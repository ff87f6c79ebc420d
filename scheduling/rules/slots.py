"""Time as bits: one bit for five minutes, a whole horizon in one integer, so that free time is found by `&`."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from studio.rules import Span
from studio.rules.spans import merged

SLOT_MINUTES = 5
SLOT_SECONDS = SLOT_MINUTES * 60
_HOUR = 3600


@dataclass(frozen=True)
class Slots:
    """`count` slots from `origin`, a whole hour in seconds since 1970, so that quarters fall on every third bit."""

    origin: int
    count: int

    @classmethod
    def over(cls, start: datetime, end: datetime) -> "Slots":
        """The slots of the whole hours around `[start, end)`."""
        origin = int(start.timestamp() // _HOUR) * _HOUR
        hours = max(1, -int((origin - end.timestamp()) // _HOUR))
        return cls(origin, hours * _HOUR // SLOT_SECONDS)

    @property
    def all(self) -> int:
        return (1 << self.count) - 1

    def floor(self, instant: datetime) -> int:
        """The slot an instant lies in, cut to the horizon."""
        return min(max(int((instant.timestamp() - self.origin) // SLOT_SECONDS), 0), self.count)

    def ceil(self, instant: datetime) -> int:
        """The first slot that starts at or after an instant, cut to the horizon."""
        return min(max(-int((self.origin - instant.timestamp()) // SLOT_SECONDS), 0), self.count)

    def touched(self, spans: Iterable[Span]) -> int:
        """Every slot that shares an instant with one of `spans`: what is taken."""
        # Written out: this runs for every booking of the days looked at.
        origin, count, mask = self.origin, self.count, 0
        for span in spans:
            first = int(span.start.timestamp() - origin) // SLOT_SECONDS
            after = min(-(int(origin - span.end.timestamp()) // SLOT_SECONDS), count)
            if first < 0:
                first = 0
            if first < after:
                mask |= ((1 << after - first) - 1) << first
        return mask

    def within(self, spans: Iterable[Span]) -> int:
        """Every slot that lies wholly in `spans`: what is open."""
        mask = 0
        for span in merged(spans):
            mask |= between(self.ceil(span.start), self.floor(span.end))
        return mask

    def instant(self, slot: int) -> datetime:
        """When a slot starts, UTC."""
        return datetime.fromtimestamp(self.origin + slot * SLOT_SECONDS, UTC)

    def every(self, minutes: int) -> int:
        """The slots on the grid of every `minutes` minutes past the hour. `minutes` divides an hour."""
        return self.all // ((1 << minutes // SLOT_MINUTES) - 1)


def between(first: int, after: int) -> int:
    """The bits `first` to `after`, the last left out; none when they do not grow."""
    return ((1 << after - first) - 1) << first if first < after else 0


def starts_of_runs(mask: int, length: int) -> int:
    """The bits that start `length` set bits in a row."""
    have = 1
    while have < length:
        more = min(have, length - have)
        mask &= mask >> more
        have += more
    return mask


def at_least(masks: Iterable[int], count: int) -> int:
    """The bits that are set in `count` of `masks` or more."""
    reached = [0] * count
    for mask in masks:
        for index in range(count - 1, 0, -1):
            reached[index] |= reached[index - 1] & mask
        reached[0] |= mask
    return reached[-1]


def bits(mask: int) -> Iterator[int]:
    """The numbers of the set bits, growing."""
    digits = f"{mask:b}"[::-1]
    found = digits.find("1")
    while found >= 0:
        yield found
        found = digits.find("1", found + 1)
