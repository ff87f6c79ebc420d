"""The walk over rounds: among the plans of least instructions, the fewest rounds and then the shortest."""

import heapq
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from programming.rules.groups.batches import NOTHING, Batch, Lead, LineBatches
from programming.rules.groups.parts import MOST_AHEAD, MOST_PEOPLE, SPARE_EYES, Begun, GroupCost, Option, Round, Shared

# How many lines each person has behind her.
_State = tuple[int, ...]
_Round = tuple[tuple[int, Batch], ...]
# A round so far, and the eyes and items that are left for it.
_Begun = tuple[_Round, int, tuple[int, ...]]


@dataclass(frozen=True)
class _Table:
    """What is to be planned: the batches of each line, and the shared stock in the order of its kinds.

    `eyes_from` are the figures above one that all lines from one on need, `time_from` the deciseconds that a person
    needs for them at least, by person.
    """

    lines: tuple[LineBatches, ...]
    people: int
    most: tuple[int, ...]
    eyes_from: tuple[int, ...]
    time_from: tuple[tuple[int, ...], ...]

    def to_come(self, state: _State) -> tuple[int, int]:
        """Bounds of rounds and deciseconds to come: of who has most to do, and of the eyes that are needed."""
        first, last = min(state), max(state)
        eyes, left = self.eyes_from[last], 0
        for line in range(first, last):
            left |= sum([1 << person for person, behind in enumerate(state) if behind == line])
            eyes += self.lines[line].eyes(left)
        rounds = max(len(self.lines) - first, -(-eyes // SPARE_EYES))
        return rounds, max([times[line] for times, line in zip(self.time_from, state, strict=True)])


def shared_plan(lines: Sequence[Sequence[Sequence[Option]]], stock: Mapping[str, int]) -> Shared:
    """The best plan for `lines[line][person]` options; an item kind that `stock` does not name is not there.

    Raises ValueError for no people, more than six, or lines that do not agree on how many there are.
    """
    people = len(lines[0]) if lines else 0
    if not 1 <= people <= MOST_PEOPLE or any(len(line) != people for line in lines):
        raise ValueError("a group plan is for one to six people, the same at every line")
    kinds = sorted({kind for line in lines for person in line for option in person for kind in option.items})
    most = tuple(stock.get(kind, 0) for kind in kinds)
    everybody, batches = (1 << people) - 1, tuple(LineBatches(line, kinds, most) for line in lines)
    lead = NOTHING
    for line in batches:
        lead = _sum(lead, line.least(everybody))
    eyes = _from_each([line.eyes(everybody) for line in batches])
    times = tuple(_from_each([line.shortest(everybody, person) for line in batches]) for person in range(people))
    rounds = _walk(_Table(batches, people, most, eyes, times))
    return _shared(lines, rounds, lead, people)


def _sum(one: Lead, other: Lead) -> Lead:
    return (one[0] + other[0], one[1] + other[1], one[2] + other[2], one[3] + other[3])


def _from_each(values: Sequence[int]) -> tuple[int, ...]:
    """The sums from each place to the end, and 0 after it."""
    return tuple(accumulate(reversed(values), initial=0))[::-1]


def _walk(table: _Table) -> list[_Round]:
    """Best first: rounds and then deciseconds, so far and at least to come; each state is settled once."""
    start, goal = (0,) * table.people, (len(table.lines),) * table.people
    best: dict[_State, tuple[int, int]] = {start: (0, 0)}
    came: dict[_State, tuple[_State, _Round]] = {}
    waiting: list[tuple[int, int, int, _State]] = [(0, 0, 0, start)]
    settled: set[_State] = set()
    while waiting:
        state = heapq.heappop(waiting)[-1]
        if state == goal:
            break
        if state in settled:
            continue
        settled.add(state)
        rounds, passed = best[state]
        for move, lasts, reached in _moves(table, state):
            cost = (rounds + 1, passed + lasts)
            if reached not in best or cost < best[reached]:
                best[reached], came[reached] = cost, (state, move)
                more, longer = table.to_come(reached)
                heapq.heappush(waiting, (cost[0] + more, cost[1] + longer, len(waiting), reached))
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
        at[line] = at.get(line, 0) | 1 << person
    ahead, behind = at.get(min(state) + MOST_AHEAD, 0), at[min(state)]
    at.pop(len(table.lines), None)
    choices, to_come = [], 0
    for line, here in sorted(at.items()):
        choices.append([(line, batch) for batch in table.lines[line].tight(here, to_come)])
        to_come |= here
    for move in _joined(choices, table.most):
        begun = lasts = 0
        for _, batch in move:
            begun |= batch.people
            lasts = max(lasts, batch.deciseconds)
        if not (begun & ahead and behind & ~begun):
            yield move, lasts, tuple([line + (begun >> person & 1) for person, line in enumerate(state)])


def _joined(choices: Sequence[Sequence[tuple[int, Batch]]], most: tuple[int, ...]) -> list[_Round]:
    """At each line one batch or none, at one line at least, within the eyes and the items there are."""
    found: list[_Begun] = [((), SPARE_EYES, most)]
    for batches in choices:
        found += [more for so_far in found for begun in batches if (more := _with(so_far, begun))]
    return [move for move, _, _ in found[1:]]


def _with(so_far: _Begun, begun: tuple[int, Batch]) -> _Begun | None:
    """One batch more in a round; None when the eyes or the items are not enough."""
    move, eyes, items = so_far
    batch = begun[1]
    if batch.eyes > eyes:
        return None
    if any(batch.items):
        items = tuple(map(int.__sub__, items, batch.items))
        if min(items) < 0:
            return None
    return (*move, begun), eyes - batch.eyes, items


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
