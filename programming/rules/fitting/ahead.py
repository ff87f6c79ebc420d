"""What the steps ahead must still cost or take, whatever is chosen: bounds by which most of a search is never begun."""

from bisect import insort
from collections.abc import Sequence
from itertools import accumulate

from programming.rules.fitting.puzzle import KINDS, NONE, Choice, Puzzle, Spare


class Ahead:
    """Bounds from each step to the end, indexed by step; the last entry stands after the last step.

    `rounding` and `roundest` are the least and the most flexion minus extension, `aims` what can still be served; the
    least and the most seconds come from `least` and `most`.
    """

    def __init__(self, puzzle: Puzzle, spare: Spare) -> None:
        count = len(puzzle.steps)
        self.rounding, self.roundest, self.aims = ([0] * (count + 1) for _ in range(3))
        nothing = tuple([0] * (many + 1) for many in spare)
        self._shortest, self._longest = [0] * (count + 1), [0] * (count + 1)
        self._saved, self._lost = [nothing] * (count + 1), [nothing] * (count + 1)
        saved: tuple[list[int], ...] = ([], [], [])
        lost: tuple[list[int], ...] = ([], [], [])
        for at in range(count - 1, -1, -1):
            step = puzzle.steps[at]
            seconds = [choice.seconds for choice in step if choice.spares is NONE] or [0]
            self._shortest[at] = self._shortest[at + 1] + min(seconds)
            self._longest[at] = self._longest[at + 1] + max(seconds)
            for kind in dict.fromkeys(choice.spares for choice in step if choice.spares is not NONE):
                insort(saved[KINDS.index(kind)], min(seconds))
                insort(lost[KINDS.index(kind)], max(seconds))
            if any(spare):
                self._saved[at] = tuple(_sums(one[::-1], many) for one, many in zip(saved, spare, strict=True))
                self._lost[at] = tuple(_sums(one, many) for one, many in zip(lost, spare, strict=True))
            self._goals(at, step)

    def _goals(self, at: int, step: Sequence[Choice]) -> None:
        roundings = [choice.rounding for choice in step] or [0]
        self.rounding[at] = self.rounding[at + 1] + min(roundings)
        self.roundest[at] = self.roundest[at + 1] + max(roundings)
        self.aims[at] = self.aims[at + 1]
        for choice in step:
            self.aims[at] |= choice.aims

    def least(self, at: int, left: Spare) -> int:
        """The least seconds from step `at` on when so many of each kind may still be left out."""
        saved = self._saved[at]
        return self._shortest[at] - saved[0][left[0]] - saved[1][left[1]] - saved[2][left[2]]

    def most(self, at: int, left: Spare) -> int:
        """The most seconds from step `at` on when so many of each kind must still be left out."""
        lost = self._lost[at]
        return self._longest[at] - lost[0][left[0]] - lost[1][left[1]] - lost[2][left[2]]


def _sums(seconds: Sequence[int], many: int) -> list[int]:
    """The sum of the first 0, 1, 2 … up to `many`."""
    found = [0, *accumulate(seconds[:many])]
    return found + [found[-1]] * (many + 1 - len(found))
