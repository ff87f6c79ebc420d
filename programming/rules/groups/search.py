"""The walk over rounds: among the plans of least instructions, the fewest rounds and then the shortest."""

import heapq
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from programming.rules.groups.batches import NOTHING, Batch, Lead, LineBatches
from programming.rules.groups.parts import MOST_AHEAD, MOST_PEOPLE, SPARE_EYES, Begun, GroupCost, Option, Round, Shared

# How many lines each person has behind her.
_State = tuple[int, ...]
_Round = tuple[tuple[int, Batch], ...]


@dataclass(frozen=True)
class _Table:
    """What is to be planned: the batches of each line, and the shared stock in the order of its kinds."""

    lines: tuple[LineBatches, ...]
    people: int
    most: tuple[int, ...]


def shared_plan(lines: Sequence[Sequence[Sequence[Option]]], stock: Mapping[str, int]) -> Shared:
    """The best plan for `lines[line][person]` options; an item kind that `stock` does not name is not there.

    Raises ValueError for no people, more than six, or lines that do not agree on how many there are.
    """
    people = len(lines[0]) if lines else 0
    if not 1 <= people <= MOST_PEOPLE or any(len(line) != people for line in lines):
        raise ValueError("a group plan is for one to six people, the same at every line")
    kinds = sorted({kind for line in lines for person in line for option in person for kind in option.items})
    most = tuple(stock.get(kind, 0) for kind in kinds)
    table = _Table(tuple(LineBatches(line, kinds, most) for line in lines), people, most)
    lead = NOTHING
    for line in table.lines:
        lead = _sum(lead, line.least((1 << people) - 1))
    rounds = _walk(table)
    return _shared(lines, rounds, lead, people)


def _sum(one: Lead, other: Lead) -> Lead:
    return (one[0] + other[0], one[1] + other[1], one[2] + other[2], one[3] + other[3])


def _walk(table: _Table) -> list[_Round]:
    """Best first: rounds so far and at least to come, then deciseconds; each state is settled once."""
    start, goal = (0,) * table.people, (len(table.lines),) * table.people
    best: dict[_State, tuple[int, int]] = {start: (0, 0)}
    came: dict[_State, tuple[_State, _Round]] = {}
    waiting: list[tuple[int, int, int, _State]] = [(len(table.lines), 0, 0, start)]
    settled: set[_State] = set()
    while waiting:
        _, passed, _, state = heapq.heappop(waiting)
        if state == goal:
            break
        if state in settled:
            continue
        settled.add(state)
        rounds = best[state][0] + 1
        for move, lasts, reached in _moves(table, state):
            cost = (rounds, passed + lasts)
            if reached not in best or cost < best[reached]:
                best[reached] = cost
                came[reached] = (state, move)
                heapq.heappush(waiting, (rounds + goal[0] - min(reached), cost[1], len(came), reached))
    return _back(came, goal)


def _back(came: Mapping[_State, tuple[_State, _Round]], state: _State) -> list[_Round]:
    rounds: list[_Round] = []
    while state in came:
        state, move = came[state]
        rounds.append(move)
    return rounds[::-1]


def _moves(table: _Table, state: _State) -> Iterator[tuple[_Round, int, _State]]:
    """Every round that may follow, how long it lasts, and how far people have then come."""
    at: dict[int, int] = {}
    for person, line in enumerate(state):
        if line < len(table.lines):
            at[line] = at.get(line, 0) | 1 << person
    choices, to_come = [], 0
    for line, here in sorted(at.items()):
        choices.append((line, (None, *table.lines[line].tight(here, to_come))))
        to_come |= here
    for move in _joined(choices, table.most, SPARE_EYES):
        if not move:
            continue
        begun = 0
        for _, batch in move:
            begun |= batch.people
        reached = tuple(line + (begun >> person & 1) for person, line in enumerate(state))
        if max(reached) - min(reached) <= MOST_AHEAD:
            yield move, max(batch.deciseconds for _, batch in move), reached


def _joined(
    choices: Sequence[tuple[int, Sequence[Batch | None]]], left: tuple[int, ...], eyes: int
) -> Iterator[_Round]:
    """At each line one batch or none, within the eyes and the items that are left."""
    if not choices:
        yield ()
        return
    (line, batches), *rest = choices
    for batch in batches:
        if batch is None:
            yield from _joined(rest, left, eyes)
            continue
        after = tuple(most - used for most, used in zip(left, batch.items, strict=True))
        if batch.eyes <= eyes and min(after, default=0) >= 0:
            for others in _joined(rest, after, eyes - batch.eyes):
                yield ((line, batch), *others)


def _shared(lines: Sequence[Sequence[Sequence[Option]]], rounds: Sequence[_Round], lead: Lead, people: int) -> Shared:
    chosen: dict[tuple[int, int], Option | None] = {}
    found = []
    for move in rounds:
        begun: list[Begun | None] = [None] * people
        for line, batch in move:
            here = [person for person in range(people) if batch.people >> person & 1]
            for person, pick in zip(here, batch.picks, strict=True):
                options = lines[line][person]
                chosen[line, person] = options[pick] if pick < len(options) else None
                begun[person] = Begun(line, chosen[line, person])
        found.append(Round(tuple(begun), max(batch.deciseconds for _, batch in move)))
    left_out, said, changed, nearness = lead
    seconds = sum(one.deciseconds for one in found)
    cost = GroupCost(left_out, said - len(lines), changed, nearness, len(found), seconds)
    return Shared(tuple(found), cost, people, chosen)
