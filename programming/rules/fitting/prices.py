"""Prices of stand-ins that several lines want, so that what each line would pay bounds what all together must pay."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush

from programming.rules.fitting.machine import NOWHERE
from programming.rules.fitting.puzzle import Choice


@dataclass(frozen=True, slots=True)
class Sale:
    """Prices by stand-in, what each step that wants one has got, and how many pay `never` for want of any.

    None stands for a stand-in nobody else wants, or for nothing.
    """

    price: Mapping[int, int]
    got: Mapping[int, int | None]
    unmatched: int


def prices(steps: Sequence[Sequence[Choice]], costs: Sequence[Sequence[int]], never: int) -> Sale:
    """The sale of stand-ins to the steps that want them.

    The prices are the shadow prices of the cheapest way to give each line a choice when each stand-in goes to one line.
    Any prices of 0 or more bound from below what all lines must pay; these bound best when only the stand-ins bind.
    """
    at = [at for at, step in enumerate(steps) if any(choice.resource != NOWHERE for choice in step)]
    wants = [_Want.of(steps[place], costs[place], never) for place in at]
    market = _Market(wants)
    for line in range(len(wants)):
        market.seat(line)
    unmatched = sum(want.alone == never for line, want in enumerate(wants) if line not in market.held)
    got = {place: market.held.get(line) for line, place in enumerate(at)}
    return Sale({name: -value for name, value in market.column.items() if value}, got, unmatched)


@dataclass(frozen=True, slots=True)
class _Want:
    """What one line would pay for each wanted stand-in, and `alone`, for the best that nobody else wants."""

    costs: Mapping[int, int]
    alone: int

    @classmethod
    def of(cls, step: Sequence[Choice], own: Sequence[int], never: int) -> "_Want":
        costs: dict[int, int] = {}
        alone = never
        for choice, cost in zip(step, own, strict=True):
            if choice.resource == NOWHERE:
                alone = min(alone, cost)
            elif cost < costs.get(choice.resource, never):
                costs[choice.resource] = cost
        return cls(costs, alone)


@dataclass(slots=True)
class _Market:
    """The Hungarian method, one line after the other by a shortest augmenting path; `row` and `column` are duals."""

    wants: Sequence[_Want]
    holder: dict[int, int] = field(default_factory=dict)
    held: dict[int, int] = field(default_factory=dict)
    column: dict[int, int] = field(default_factory=dict)
    row: dict[int, int] = field(default_factory=dict)

    def seat(self, first: int) -> None:
        came: dict[int, int] = {}
        reached: dict[int, int] = {}
        heap: list[tuple[int, int, int]] = []
        self._look(first, 0, reached, heap)
        while True:
            far, name, line = heappop(heap)
            if name in reached:
                continue
            if name < 0 or name not in self.holder:
                break
            reached[name], came[name] = far, line
            self._look(self.holder[name], far, reached, heap)
        self._settle(first, far, reached)
        while line != first:
            given_up = self.held[line]
            self._give(name, line)
            name, line = given_up, came[given_up]
        self._give(name, line)

    def _give(self, name: int, line: int) -> None:
        """The stand-in goes to the line; a number below 0 stands for what nobody else wants."""
        if name < 0:
            self.held.pop(line, None)
        else:
            self.held[line], self.holder[name] = name, line

    def _look(self, line: int, far: int, reached: Mapping[int, int], heap: list[tuple[int, int, int]]) -> None:
        want, paid = self.wants[line], self.row.get(line, 0)
        heappush(heap, (far + want.alone - paid, -1 - line, line))
        for name, cost in want.costs.items():
            if name not in reached:
                heappush(heap, (far + cost - paid - self.column.get(name, 0), name, line))

    def _settle(self, first: int, far: int, reached: Mapping[int, int]) -> None:
        self.row[first] = self.row.get(first, 0) + far
        for name, at in reached.items():
            who = self.holder[name]
            self.row[who] = self.row.get(who, 0) + far - at
            self.column[name] = self.column.get(name, 0) - (far - at)
