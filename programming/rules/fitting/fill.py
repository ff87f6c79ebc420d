"""Filling the time: of all ways that cost the same, the one that leaves the fewest seconds of the slot empty."""

from operator import itemgetter

from programming.rules.fitting.puzzle import Spare
from programming.rules.fitting.search import COMPARED, PATIENCE, Search, Way


def fullest(search: Search, best: Way) -> tuple[Way, int]:
    """The longest way that costs what the best costs, and the most seconds one could have; the same when proven.

    Ways of one length are compared as in the search; ways of different lengths are both kept.
    """
    room = search.room or 0
    ways, made, moves = [search.start()], 0, search.bounds.below(best.cost + 1)
    for at in range(len(search.puzzle.steps)):
        grown = [
            way
            for way in search.grown(ways, at, best.cost + 1, moves[at])
            if way.seconds + search.ahead.most(at + 1, _left(search.spare, way.gone)) > best.seconds
        ]
        made += len(grown)
        if made > PATIENCE:
            return best, min(room, max(way.seconds + _most(search, at, way) for way in grown))
        ways = _longest_kept(grown)
    for way in ways:
        ended = search.ended(way)
        if ended.cost == best.cost and ended.seconds > best.seconds:
            best = ended
    return best, best.seconds


def _most(search: Search, at: int, way: Way) -> int:
    return search.ahead.most(at + 1, _left(search.spare, way.gone))


def _left(spare: Spare, gone: Spare) -> Spare:
    return (spare[0] - gone[0], spare[1] - gone[1], spare[2] - gone[2])


def _longest_kept(ways: list[Way]) -> list[Way]:
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
