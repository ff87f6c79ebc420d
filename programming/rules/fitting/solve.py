"""The cheapest way through a plan: first without leaving out a line, then with as few left out as there must be."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from programming.rules.fitting.candidates import LEFT_OUT, Given, Options, SharedReps
from programming.rules.fitting.fill import fullest
from programming.rules.fitting.pooled import Variant
from programming.rules.fitting.prices import prices
from programming.rules.fitting.puzzle import KINDS, NONE, Puzzle, Spare, puzzle
from programming.rules.fitting.search import Search, Way
from programming.rules.fitting.weights import Weights

# A line is left without a stand-in only when there is none for it.
NEVER = 1


@dataclass(frozen=True, slots=True)
class Solution:
    """What is done for each line. No way leaves out fewer than `spared`, comes nearer than `near`, or lasts longer.

    `is_filled` false says that only the seconds left empty are not proven.
    """

    done: tuple[Variant, ...]
    is_proven: bool
    is_filled: bool
    spared: Spare
    near: int
    most_seconds: int


def solve(options: Sequence[Options], shared: Sequence[SharedReps], given: Given, room: int) -> Solution:
    """The cheapest way to do the lines in `room` deciseconds."""
    plan = _Plan(options, shared, given, max(0, room))
    whole = plan.puzzle(NONE)
    if all(whole.steps) and (found := plan.soft(whole, NONE)):
        return found
    return plan.sparing(is_tried=all(whole.steps))


@dataclass(frozen=True, slots=True)
class _Plan:
    options: Sequence[Options]
    shared: Sequence[SharedReps]
    given: Given
    room: int

    def puzzle(self, spare: Spare, *, hard_only: bool = False) -> Puzzle:
        return puzzle(self.options, self.shared, self.given, spare, hard_only=hard_only)

    def sparing(self, *, is_tried: bool) -> Solution:
        """With as few lines left out as there must be; `is_tried` when none at all was found to be too few."""
        least = self._least(self.puzzle((1, 1, 1), hard_only=True))
        if not (is_tried and least == NONE):
            exact = self.puzzle(least)
            if all(exact.steps) and (found := self.soft(exact, least)):
                return found
        for spare in self._wider(least):
            way, is_proven = self._hard_search(spare).best()
            if way is not None:
                return self._softened(way, least, is_proven=is_proven)
        done = tuple(Variant(LEFT_OUT, None) for _ in self.options)
        return Solution(done, False, True, least, 0, self.room)

    def _softened(self, hard: Way, least: Spare, *, is_proven: bool) -> Solution:
        """The best of what leaves out and swaps as the hard search has found it; that itself when nothing better is."""
        found = self.soft(self.puzzle(hard.gone), hard.gone)
        if found is None:
            done = tuple(one for choice in hard.choices() for one in choice.done)
            return Solution(done, False, True, least, 0, self.room)
        if is_proven:
            return found
        return replace(found, is_proven=False, is_filled=True, spared=least, near=0, most_seconds=self.room)

    def _hard_search(self, spare: Spare) -> Search:
        return Search(self.puzzle(spare, hard_only=True), spare, Weights.hard(len(self.options)), self.room)

    def _least(self, hard: Puzzle) -> Spare:
        """As few of each kind left out as time alone asks, and as many out as there are no stand-ins for."""
        lasts: dict[Spare, list[int]] = {kind: [] for kind in KINDS}
        without = dict.fromkeys(KINDS, 0)
        room = self.room
        for step in hard.steps:
            kind = next((choice.spares for choice in step if choice.spares is not NONE), NONE)
            done = [choice.seconds for choice in step if choice.spares is NONE]
            if kind is NONE:
                room -= min(done)
            elif done:
                lasts[kind].append(min(done))
            else:
                without[kind] += 1
        found = []
        for kind in KINDS:
            fewest, room = _fewest(lasts[kind], room)
            found.append(fewest + without[kind])
        planned, adapted, out = found
        return planned, adapted, max(out, _unmatched(hard) + without[KINDS[2]])

    def _wider(self, least: Spare) -> Iterator[Spare]:
        count = len(self.options)
        planned, adapted, out = least
        yield planned, adapted, min(count, out + 2)
        yield planned, adapted, count
        more = 0
        while planned + more < count:
            yield planned + more, count, count
            more = 2 * more + 1
        yield count, count, count

    def soft(self, whole: Puzzle, spare: Spare) -> Solution | None:
        """The cheapest way with these left out; None when there is none."""
        if spare == NONE or spare == (0, 0, _unmatched(whole)):
            near, nearest = _nearest(whole)
            found = self._searched(nearest, spare)
            if found is not None and found.near == near:
                return found
        return self._searched(whole, spare)

    def _searched(self, whole: Puzzle, spare: Spare) -> Solution | None:
        """The cheapest way through a puzzle; None when there is none.

        The time is left aside first. It changes nothing when the longest of the cheapest ways fits it, and only what
        is filled last when the shortest of them does.
        """
        lines, aims = len(self.options), whole.aims.bit_count()
        longest = sum(max((choice.seconds for choice in step), default=0) for step in whole.steps) + 1
        search = Search(whole, spare, Weights.soft(lines, aims, longest))
        way, is_proven = search.best()
        if way is None and is_proven:
            return None
        if way is not None and way.seconds <= self.room:
            return _solution(search, way, is_proven=is_proven, most=way.seconds if is_proven else self.room)
        timed = Search(whole, spare, Weights.soft(lines, aims, None), self.room)
        if is_proven:
            shortest = Search(whole, spare, Weights.soft(lines, aims, longest, is_short=True))
            way, is_proven = shortest.best()
        if way is None or not is_proven or way.seconds > self.room:
            way, is_proven = timed.best()
        else:
            way = way._replace(cost=way.cost // longest)
        if way is None:
            return None
        way, most = fullest(timed, way)
        return _solution(timed, way, is_proven=is_proven, most=most if is_proven else self.room)


def _solution(search: Search, way: Way, *, is_proven: bool, most: int) -> Solution:
    choices = way.choices()
    near = sum(choice.near for choice in choices)
    if not is_proven:
        near = max(0, search.start().bound // search.weights.near)
    done = tuple(one for choice in choices for one in choice.done)
    return Solution(
        done, is_proven and most == way.seconds, not is_proven or most == way.seconds, search.spare, near, most
    )


def _nearest(whole: Puzzle) -> tuple[int, Puzzle]:
    """The least nearness when only the stand-ins bind, and the puzzle with only the choices that can be part of it."""
    far = 4 * (len(whole.steps) + 1)
    costs = [[choice.near if choice.spares is NONE else far for choice in step] for step in whole.steps]
    price = prices(whole.steps, costs, far * far).price
    paid = [
        [cost + price.get(choice.resource, 0) for choice, cost in zip(step, own, strict=True)]
        for step, own in zip(whole.steps, costs, strict=True)
    ]
    least = [min(own) for own in paid]
    near = (sum(least) - sum(price.values())) % far
    return near, whole.only([[cost == low for cost in own] for own, low in zip(paid, least, strict=True)])


def _unmatched(hard: Puzzle) -> int:
    """How many lines can have no stand-in because others take them all."""
    costs = [[0 if choice.spares is NONE else NEVER for choice in step] for step in hard.steps]
    return prices(hard.steps, costs, NEVER).unmatched


def _fewest(lasts: Sequence[int], room: int) -> tuple[int, int]:
    """How few of these have to go so that the others fit, and the room that is left then; the longest go first."""
    total = sum(lasts)
    for many, longest in enumerate(sorted(lasts, reverse=True)):
        if total <= room:
            return many, room - total
        total -= longest
    return len(lasts), room
