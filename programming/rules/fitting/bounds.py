"""The bound a search leans on: the relaxed steps, with prices on stand-ins that several lines want.

A price is paid by whoever uses the stand-in and given back once, so the sum of what lines pay less all prices bounds
from below. In the same way a stake is paid for each line left out and given back as often as lines have to be.
"""

from collections.abc import Sequence

from programming.rules.fitting.machine import NOWHERE
from programming.rules.fitting.prices import prices
from programming.rules.fitting.puzzle import KINDS, NONE, Choice, Puzzle, Spare
from programming.rules.fitting.relax import NO_WAY, Relaxed, relaxed
from programming.rules.fitting.weights import Weights

# Choices of each step with their cost and what they pay on top.
Move = tuple[Choice, int, int]
Moves = list[list[Move]]
# Rounds of pricing: each starts from what the last has left unsettled.
ROUNDS = 3


class Bounds:
    """`moves` are all choices; `rest` and `through` as in `Relaxed`, paid.

    `paid` is what is given back of prices and stakes, below 0; `least` the least cost with everything paid.
    """

    def __init__(self, puzzle: Puzzle, weights: Weights, spare: Spare) -> None:
        self.puzzle, self.weights = puzzle, weights
        self.own = [[weights.of(choice) for choice in step] for step in puzzle.steps]
        self.price: dict[int, int] = {}
        self.got: dict[int, int | None] = {}
        self.stakes: Spare = NONE
        found = self._relaxed()
        if any(spare) and not any(weights.spared):
            found = self._staked(found, spare)
        found = self._priced(found)
        self.rest, self.through, self.least = found.rest, found.through, found.least
        self.paid = -sum(self.price.values()) - sum(s * many for s, many in zip(self.stakes, spare, strict=True))
        self.moves: Moves = [
            [(choice, own, self._extra(choice)) for choice, own in zip(step, costs, strict=True)]
            for step, costs in zip(puzzle.steps, self.own, strict=True)
        ]

    def sold(self) -> Moves:
        """Of each step the choices that use what it got in the last sale."""
        return [
            [move for move in moves if at not in self.got or self._is_got(at, move[0])] or moves
            for at, moves in enumerate(self.moves)
        ]

    def _is_got(self, at: int, choice: Choice) -> bool:
        name = self.got[at]
        return choice.resource == (NOWHERE if name is None else name)

    def below(self, limit: int) -> Moves:
        """Of each step the choices by which some way may come below the limit."""
        return [
            [move for move, through in zip(moves, ways, strict=True) if through + self.paid < limit]
            for moves, ways in zip(self.moves, self.through, strict=True)
        ]

    def _extra(self, choice: Choice) -> int:
        if choice.spares is not NONE:
            return self.stakes[KINDS.index(choice.spares)]
        return self.price.get(choice.resource, 0)

    def _relaxed(self) -> Relaxed:
        paid = [
            [own + self._extra(choice) for choice, own in zip(step, costs, strict=True)]
            for step, costs in zip(self.puzzle.steps, self.own, strict=True)
        ]
        weights = self.weights
        return relaxed(self.puzzle.steps, paid, self.puzzle.machine, change=weights.change, run=weights.opposition)

    def _staked(self, found: Relaxed, spare: Spare) -> Relaxed:
        """Stakes at which about as many lines are worth leaving out as have to be."""
        never = self.weights.near * 4 * len(self.puzzle.steps) + self.weights.near
        self.stakes = (never, never, never)
        found = self._relaxed()
        stakes = []
        for kind, many in zip(KINDS, spare, strict=True):
            lost = sorted(
                through - found.least - never
                for step, ways in zip(self.puzzle.steps, found.through, strict=True)
                for choice, through in zip(step, ways, strict=True)
                if choice.spares == kind and through < NO_WAY
            )
            stakes.append(-lost[many - 1] if 0 < many <= len(lost) else never)
        planned, adapted, out = stakes
        if spare[2] and prices(self.puzzle.steps, _regrets(found), never // 2).unmatched >= spare[2]:
            out = never
        self.stakes = (planned, adapted, out)
        return self._relaxed()

    def _priced(self, found: Relaxed) -> Relaxed:
        """Prices, raised while that raises the bound."""
        if not any(choice.resource != NOWHERE for step in self.puzzle.steps for choice in step):
            return found
        bound = found.least
        for _ in range(ROUNDS):
            if found.least >= NO_WAY:
                return found
            sale = prices(self.puzzle.steps, _regrets(found), NO_WAY)
            self.got = dict(sale.got)
            if not sale.price:
                break
            before = dict(self.price)
            for name, price in sale.price.items():
                self.price[name] = self.price.get(name, 0) + price
            priced = self._relaxed()
            if priced.least - sum(self.price.values()) <= bound:
                self.price = before
                break
            found, bound = priced, priced.least - sum(self.price.values())
        return found


def _regrets(found: Relaxed) -> list[Sequence[int]]:
    """How much dearer the cheapest way by each choice is than the cheapest of all."""
    return [[min(through, NO_WAY) - found.least for through in ways] for ways in found.through]
