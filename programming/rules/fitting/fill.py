"""Filling the time: of all ways that cost the same, the one that leaves the fewest seconds of the slot empty."""

from collections.abc import Callable, Sequence
from itertools import accumulate
from operator import itemgetter

from programming.rules.fitting.bounds import Moves
from programming.rules.fitting.puzzle import Spare
from programming.rules.fitting.search import COMPARED, PATIENCE, Search, Way

# Ways of different length kept after each step while a full slot is looked for.
LENGTHS = 400


def fullest(search: Search, best: Way) -> tuple[Way, int]:
    """The longest way that costs what the best costs, and the most seconds one could have; the same when proven.

    First only a few lengths are followed: where they fill the slot to the last decisecond nothing can be longer.
    """
    most = min(search.room or 0, _most(search, 0, search.start()))
    for kept in (_spread_out, _longest_kept):
        if best.seconds >= most:
            break
        longer, is_through = _run(search, best, kept)
        best = longer or best
    else:
        if is_through:
            most = best.seconds
    return best, max(most, best.seconds)


def _run(search: Search, best: Way, kept: Callable[[list[Way]], list[Way]]) -> tuple[Way | None, bool]:
    """The longest way found that is longer than the best, and whether the search came to its end."""
    ways, made, moves, room = [search.start()], 0, search.bounds.below(best.cost + 1), search.room or 0
    shortest, longest = _ahead(moves, min), _ahead(moves, max)
    for at in range(len(search.puzzle.steps)):
        least, most = shortest[at + 1], longest[at + 1]
        grown = [
            way
            for way in search.grown(ways, at, best.cost + 1, moves[at])
            if way.seconds + least <= room and way.seconds + min(most, _most(search, at + 1, way)) > best.seconds
        ]
        made += len(grown)
        if made > PATIENCE:
            return None, False
        ways = kept(grown)
    ended = [way for way in map(search.ended, ways) if way.cost == best.cost and way.seconds > best.seconds]
    return max(ended, key=itemgetter(3), default=None), True


def _ahead(moves: Moves, of: Callable[[list[int]], int]) -> list[int]:
    """The least or the most seconds from each step on, by the choices that are left."""
    each = [of([choice.seconds for choice, _, _ in step] or [0]) for step in moves]
    return [*accumulate(reversed(each), initial=0)][::-1]


def _most(search: Search, at: int, way: Way) -> int:
    spare, gone = search.spare, way.gone
    return search.ahead.most(at, (spare[0] - gone[0], spare[1] - gone[1], spare[2] - gone[2]))


def _spread_out(ways: Sequence[Way]) -> list[Way]:
    """One way of each length and state, and of many lengths some from the shortest to the longest."""
    ones = {(way.seconds, way.state, way.gone): way for way in sorted(ways, key=itemgetter(1), reverse=True)}
    found = sorted(ones.values(), key=itemgetter(3))
    return [found[at * len(found) // LENGTHS] for at in range(LENGTHS)] if len(found) > LENGTHS else found


def _longest_kept(ways: list[Way]) -> list[Way]:
    """Without those that another of the same length makes needless."""
    ways.sort(key=itemgetter(1))
    kept: list[Way] = []
    alike: dict[tuple[int, int, Spare], list[Way]] = {}
    for way in ways:
        _, _, _, seconds, bits, aims, rounding, run, state, gone, _, _ = way
        others = alike.setdefault((seconds, state, gone), [])
        for other in others[:COMPARED]:
            if not other[4] & ~bits and not other[5] & ~aims and other[6] <= rounding and other[7] <= run:
                break
        else:
            others.append(way)
            kept.append(way)
    return kept
