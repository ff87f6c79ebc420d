"""The goals as one whole number: each weighs more than all the goals after it together can come to."""

from dataclasses import dataclass

from programming.rules.fitting.machine import SPRINGS
from programming.rules.fitting.puzzle import NONE, Choice, Spare


@dataclass(frozen=True, slots=True)
class Weights:
    """What one of each goal weighs; 0 where it does not count."""

    spared: Spare = NONE
    near: int = 1
    aim: int = 0
    opposition: int = 0
    change: int = 0
    second: int = 0

    @classmethod
    def hard(cls, lines: int) -> "Weights":
        """Only what is left out, by kind, and the nearness of stand-ins."""
        out = 3 * lines + 1
        return cls((out * (lines + 1) ** 2, out * (lines + 1), out))

    @classmethod
    def soft(cls, lines: int, aims: int, seconds: int | None, *, is_short: bool = False) -> "Weights":
        """Nearness and all goals after it. `seconds` is more than all lines can last, None when they do not count.

        Of equals the longest is best, with `is_short` the shortest.
        """
        change = 1 if seconds is None else seconds
        opposition = change * (lines + 1) * (SPRINGS + 8)
        aim = opposition * 2 * (lines + 1)
        second = 0 if seconds is None else -1 if is_short else 1
        return cls(NONE, aim * (aims + 1), aim, opposition, change, second)

    def of(self, choice: Choice) -> int:
        spared = sum(weight * many for weight, many in zip(self.spared, choice.spares, strict=True))
        return spared + self.near * choice.near + self.change * choice.inner - self.second * choice.seconds
