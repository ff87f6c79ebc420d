"""The same steps without what binds far-off lines together: the least each way must still cost, found in one sweep.

Kept are the costs of each choice, the changes between neighbours and the run of flexion rows; left aside are bits,
aims, time and the balance of flexion and extension. They can only make a plan dearer, so the sweep bounds it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from programming.rules.fitting.machine import NOWHERE, Machine
from programming.rules.fitting.puzzle import RUN, Choice

# A place in a sweep: the state of the machine and the run of flexion rows, as one number.
RUNS = RUN + 1
START = 0
NO_WAY = 1 << 200


def key_of(state: int, run: int) -> int:
    return (state - NOWHERE) * RUNS + run


@dataclass(frozen=True, slots=True)
class Relaxed:
    """`rest[step]` is the least from a place before the step on; `through` the least of all ways by a choice."""

    rest: list[Mapping[int, int]]
    through: list[list[int]]

    @property
    def least(self) -> int:
        return self.rest[0].get(START, NO_WAY)


def relaxed(
    steps: Sequence[Sequence[Choice]], own: Sequence[Sequence[int]], machine: Machine, *, change: int, run: int
) -> Relaxed:
    """The sweep forward and back; `own` is what each choice costs of itself, `change` and `run` weigh the rest."""
    reached: list[dict[int, int]] = [{START: 0}]
    moves: list[list[list[tuple[int, int, int]]]] = []
    for step, costs in zip(steps, own, strict=True):
        found: dict[int, int] = {}
        moved = _moves(step, costs, reached[-1], machine, change=change, run=run)
        for ways in moved:
            for before, cost, after in ways:
                total = reached[-1][before] + cost
                if total < found.get(after, NO_WAY):
                    found[after] = total
        moves.append(moved)
        reached.append(found)
    rest: list[Mapping[int, int]] = [dict.fromkeys(reached[-1], 0)]
    through: list[list[int]] = []
    for moved, before_cost in zip(reversed(moves), reversed(reached[:-1]), strict=True):
        ahead, here, best = rest[-1], dict[int, int](), []
        for ways in moved:
            least = NO_WAY
            for before, cost, after in ways:
                onward = ahead.get(after)
                if onward is None:
                    continue
                onward += cost
                if onward < here.get(before, NO_WAY):
                    here[before] = onward
                if before_cost[before] + onward < least:
                    least = before_cost[before] + onward
            best.append(least)
        rest.append(here)
        through.append(best)
    return Relaxed(rest[::-1], through[::-1])


def _moves(
    step: Sequence[Choice], costs: Sequence[int], reached: Mapping[int, int], machine: Machine, *, change: int, run: int
) -> list[list[tuple[int, int, int]]]:
    """For each choice the places it may be chosen at, what it costs there, and the place after it."""
    places = [(place, *divmod(place, RUNS)) for place in reached]
    found = []
    for choice, cost in zip(step, costs, strict=True):
        if choice.enter == NOWHERE:
            found.append([(place, cost, place) for place in reached])
            continue
        turns: dict[int, int | None] = {}
        ways = []
        for place, state, running in places:
            if state not in turns:
                turns[state] = machine.change(state + NOWHERE, choice.enter)
            turn = turns[state]
            if turn is not None:
                more, after = choice.runs[running]
                ways.append((place, cost + turn * change + more * run, key_of(choice.leave, after)))
        found.append(ways)
    return found
