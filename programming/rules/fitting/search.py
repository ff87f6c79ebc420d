"""The search: ways through the steps, each kept only while no other is as good in every respect.

A way that is no better than another in cost, time, bits, aims, opposition and run, with the machine in the same state,
is dropped (dominance); so is one that cannot come below the best answer known, whatever the steps ahead cost at least.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from operator import itemgetter
from typing import NamedTuple

from programming.rules.fitting.ahead import Ahead
from programming.rules.fitting.bounds import Bounds, Move, Moves
from programming.rules.fitting.machine import NOWHERE
from programming.rules.fitting.puzzle import ANSWERED, NONE, Choice, Puzzle, Spare
from programming.rules.fitting.relax import NO_WAY, RUNS
from programming.rules.fitting.weights import Weights

# Ways kept after each step while a first answer is sought, and ways made before a search gives up proving.
WIDTH, PATIENCE = 40, 6_000
# Ways a new one is compared with: more comparing costs more than it saves.
COMPARED = 32


class Way(NamedTuple):
    """A way up to some step. `bound` is what it comes to at least; `gone` counts what was left out, by kind.

    `paid` are prices and stakes beyond the `cost`. `aims` are those still missing.
    """

    bound: int
    cost: int
    paid: int
    seconds: int
    bits: int
    aims: int
    rounding: int
    run: int
    state: int
    gone: Spare
    before: "Way | None"
    choice: Choice | None

    def choices(self) -> list[Choice]:
        found, way = [], self
        while way.before is not None and way.choice is not None:
            found.append(way.choice)
            way = way.before
        return found[::-1]


class Impatient(Exception):
    """More ways were made than the search has patience for."""


@dataclass(slots=True)
class Search:
    """One puzzle with what its goals weigh. `room` are the deciseconds there are, None when all is short enough.

    Exactly `spare` lines of each kind are left out, unless the weights count them: then at most so many.
    """

    puzzle: Puzzle
    spare: Spare
    weights: Weights
    room: int | None = None
    made: int = 0
    is_cut: bool = False
    ahead: Ahead = field(init=False)
    bounds: Bounds = field(init=False)

    def __post_init__(self) -> None:
        self.ahead = Ahead(self.puzzle, self.spare)
        self.bounds = Bounds(self.puzzle, self.weights, self.spare)

    def best(self) -> tuple[Way | None, bool]:
        """The cheapest way, None when there is none, and whether it is proven."""
        least = self.start().bound
        first = self._run(NO_WAY // 2, self.bounds.sold(), WIDTH)
        if first is not None and first.cost == least:
            return first, True
        self.is_cut = False
        limit = first.cost if first else NO_WAY // 2
        moves = self.bounds.below(limit)
        first = self._run(limit, moves, WIDTH) or first
        if not self.is_cut or (first is not None and first.cost == least):
            return first, True
        limit = first.cost if first else NO_WAY // 2
        try:
            better = self._run(limit, self.bounds.below(limit), None)
        except Impatient:
            return first, False
        return better or first, True

    def start(self) -> Way:
        """No step taken; its bound is what every way comes to at least."""
        paid, aims = self.bounds.paid, self.puzzle.aims
        unserved = (aims & ~self.ahead.aims[0]).bit_count()
        short = -(-max(0, self.ahead.rounding[0]) // ANSWERED)
        bound = paid + self.bounds.least + self.weights.aim * unserved + self.weights.opposition * short
        return Way(bound, 0, paid, 0, self.puzzle.start, aims, 0, 0, NOWHERE, NONE, None, None)

    def _run(self, limit: int, moves: Moves, width: int | None) -> Way | None:
        """The cheapest way below the limit; with a width only so many ways are kept after each step."""
        ways = [self.start()]
        self.made = 0
        for at in range(len(self.puzzle.steps)):
            grown = list(self.grown(ways, at, limit, moves[at]))
            self.made += len(grown)
            if width is None and self.made > PATIENCE:
                raise Impatient
            ways = self._undominated(grown)
            if width is not None and len(ways) > width:
                ways = sorted(ways, key=itemgetter(0))[:width]
                self.is_cut = True
        ended = [self.ended(way) for way in ways]
        ended = [way for way in ended if way.cost < limit]
        return min(ended, key=lambda way: (way.cost, -way.seconds), default=None)

    def ended(self, way: Way) -> Way:
        """With what the whole has to pay for aims and opposition."""
        weights = self.weights
        short = -(-max(0, way.rounding) // ANSWERED)
        return way._replace(cost=way.cost + weights.aim * way.aims.bit_count() + weights.opposition * short)

    def grown(self, ways: Iterable[Way], at: int, limit: int, moves: Sequence[Move]) -> Iterator[Way]:
        """Every way with every one of these choices of a step that is allowed after it and may come below the limit."""
        ahead, keep, after, rest = self.ahead, self.puzzle.keeps[at], at + 1, self.bounds.rest[at + 1]
        change = self.puzzle.machine.change
        change_w, run_w, aim_w = self.weights.change, self.weights.opposition, self.weights.aim
        unserved, least_round, most_round = ~ahead.aims[after], ahead.rounding[after], -ahead.roundest[after]
        for way in ways:
            _, cost_before, paid_before, seconds_before, bits_before, aims_before, round_before = way[:7]
            run_before, state_before, gone_before = way[7:10]
            for choice, own, extra in moves:
                spares, _, _, seconds, aims, enter, leave, _, rounding, runs, forbids, clears, puts, lacks, _ = choice
                if bits_before & forbids or any(bits_before & group == group for group in lacks):
                    continue
                more, run = runs[run_before]
                cost, state, gone = cost_before + own + more * run_w, state_before, gone_before
                if enter != NOWHERE:
                    turn = change(state_before, enter)
                    if turn is None:
                        continue
                    cost, state = cost + turn * change_w, leave
                seconds += seconds_before
                if spares is not NONE:
                    gone = _add(gone_before, spares)
                if not self._fits(after, seconds, gone):
                    continue
                aims, paid, rounding = (
                    aims_before & ~aims,
                    paid_before + extra,
                    max(round_before + rounding, most_round),
                )
                bound = cost + paid + rest.get((state - NOWHERE) * RUNS + run, NO_WAY)
                if aim_w:
                    bound += aim_w * (aims & unserved).bit_count()
                if rounding + least_round > 0:
                    bound += run_w * -(-(rounding + least_round) // ANSWERED)
                if bound < limit:
                    bits = (bits_before & ~clears | puts) & keep
                    yield Way(bound, cost, paid, seconds, bits, aims, rounding, run, state, gone, way, choice)

    def _fits(self, after: int, seconds: int, gone: Spare) -> bool:
        """Whether no more is left out than may be, and what is ahead still fits the time."""
        if self.room is None and gone is NONE:
            return True
        left = (self.spare[0] - gone[0], self.spare[1] - gone[1], self.spare[2] - gone[2])
        if min(left) < 0:
            return False
        return self.room is None or seconds + self.ahead.least(after, left) <= self.room

    def _undominated(self, ways: list[Way]) -> list[Way]:
        """Without those that another with the machine in the same state makes needless."""
        if len(ways) < 2:
            return ways
        ways.sort(key=itemgetter(1))
        is_timed = self.room is not None
        kept: list[Way] = []
        alike: dict[tuple[int, Spare], list[Way]] = {}
        for way in ways:
            _, _, _, seconds, bits, aims, rounding, run, state, gone, _, _ = way
            others = alike.setdefault((state, gone), [])
            for other in others[:COMPARED]:
                if (
                    (not is_timed or other[3] <= seconds)
                    and not other[4] & ~bits
                    and not other[5] & ~aims
                    and other[6] <= rounding
                    and other[7] <= run
                ):
                    break
            else:
                others.append(way)
                kept.append(way)
        return kept


def _add(one: Spare, other: Spare) -> Spare:
    return (one[0] + other[0], one[1] + other[1], one[2] + other[2])
