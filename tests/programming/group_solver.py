"""The group plan stated once more for a general solver and for plain enumeration: written from the definition alone."""

import itertools
from collections.abc import Iterator, Mapping, Sequence

from ortools.sat.python import cp_model

from programming.rules.groups import GroupCost, Option

Lines = Sequence[Sequence[Sequence[Option]]]
AHEAD = 2


def by_solver(lines: Lines, stock: Mapping[str, int]) -> GroupCost:
    """The cost of a best plan by constraint programming; every round, start and form is a variable of its own."""
    people, count = len(lines[0]), len(lines)
    rounds = people * count
    model = cp_model.CpModel()
    starts, chosen = _starts(model, lines, rounds)
    used = [model.new_bool_var(f"used {at}") for at in range(rounds)]
    lasts = [model.new_int_var(0, _longest(lines), f"lasts {at}") for at in range(rounds)]
    said = _said(model, lines, chosen, rounds)
    for at in range(rounds):
        here = {key: var for key, var in chosen.items() if key[2] == at}
        model.add_max_equality(used[at], list(here.values()))
        if at:
            model.add_implication(used[at], used[at - 1])
        _within_limits(model, lines, here, people, stock)
        for (line, person, _, pick), var in here.items():
            model.add(lasts[at] >= _time(lines, line, person, pick) * var)
    _in_order(model, starts, people, count, rounds)
    goals = _goals(lines, chosen)
    exprs = [goals[0], sum(said) - count, goals[1], goals[2], sum(used), sum(lasts)]
    cells = people * count
    return _solved(model, exprs, [cells, len(said), cells, 3 * cells, rounds, rounds * _longest(lines)])


def _solved(model: cp_model.CpModel, exprs: Sequence[cp_model.LinearExprT], most: Sequence[int]) -> GroupCost:
    """All goals in one sum: each weighs more than all after it can add up to."""
    weights = [1]
    for bound in reversed(most[1:]):
        weights.append(weights[-1] * (bound + 1))
    model.minimize(sum(weight * goal for weight, goal in zip(reversed(weights), exprs, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status == cp_model.OPTIMAL
    return GroupCost(*(solver.value(goal) for goal in exprs))


def _starts(model, lines, rounds):
    """`chosen[line, person, round, pick]`; the pick after the last option leaves the line out."""
    chosen, starts = {}, {}
    for line, people in enumerate(lines):
        for person, options in enumerate(people):
            for at in range(rounds):
                for pick in range(len(options) + 1):
                    chosen[line, person, at, pick] = model.new_bool_var(f"{line} {person} {at} {pick}")
            mine = [key for key in chosen if key[:2] == (line, person)]
            model.add_exactly_one(chosen[key] for key in mine)
            starts[line, person] = sum(key[2] * chosen[key] for key in mine)
            for at in range(rounds):
                starts[line, person, at] = sum(chosen[key] for key in mine if key[2] == at)
    return starts, chosen


def _said(model, lines, chosen, rounds):
    """One variable for each form of a line in each round: whether it has to be said then."""
    said = []
    for line, people in enumerate(lines):
        forms = {option.form for options in people for option in options} | {None}
        for form, at in itertools.product(sorted(forms, key=str), range(rounds)):
            var = model.new_bool_var(f"said {line} {form} {at}")
            for (of, person, when, pick), begun in chosen.items():
                options = lines[of][person]
                if of == line and when == at and (options[pick].form if pick < len(options) else None) == form:
                    model.add_implication(begun, var)
            said.append(var)
    return said


def _within_limits(model, lines, here, people, stock):
    """The figures of the rows and one for each who waits or rests; at most one 3; no more items than there are."""
    rows = [(lines[line][person][pick], var) for (line, person, _, pick), var in here.items()
            if pick < len(lines[line][person])]  # fmt: skip
    taught = sum(var for _, var in rows)
    figures = sum(option.supervision * var for option, var in rows)
    model.add(figures + (people - taught) <= people + 2)
    model.add(sum(var for option, var in rows if option.supervision == 3) <= 1)
    for kind in {kind for option, _ in rows for kind in option.items}:
        model.add(sum(var for option, var in rows if kind in option.items) <= stock.get(kind, 0))


def _in_order(model, starts, people, count, rounds):
    """Each person's lines in order, one a round; after every round nobody is more than two lines ahead."""
    for person in range(people):
        for line in range(count - 1):
            model.add(starts[line, person] < starts[line + 1, person])
    for at in range(rounds):
        behind = [
            sum(starts[line, person, when] for line in range(count) for when in range(at + 1))
            for person in range(people)
        ]
        for one, other in itertools.permutations(behind, 2):
            model.add(one - other <= AHEAD)


def _goals(lines, chosen):
    left = sum(var for (line, person, _, pick), var in chosen.items() if pick == len(lines[line][person]))
    rows = [(lines[line][person][pick], var) for (line, person, _, pick), var in chosen.items()
            if pick < len(lines[line][person])]  # fmt: skip
    return left, left + sum(option.changed * var for option, var in rows), sum(
        option.nearness * var for option, var in rows
    )  # fmt: skip


def _time(lines, line, person, pick):
    options = lines[line][person]
    return options[pick].deciseconds if pick < len(options) else 0


def _longest(lines):
    return max((option.deciseconds for people in lines for options in people for option in options), default=0)


def by_enumeration(lines: Lines, stock: Mapping[str, int]) -> GroupCost:
    """The cost of a best plan by walking through every lesson there can be; for tiny ones only."""
    people, count = len(lines[0]), len(lines)
    return min(_lessons(lines, stock, (0,) * people, GroupCost(instructions=-count)))


def _lessons(lines: Lines, stock: Mapping[str, int], behind: tuple[int, ...], cost: GroupCost) -> Iterator[GroupCost]:
    if min(behind) == len(lines):
        yield cost
        return
    every = []
    for person, line in enumerate(behind):
        rests = [None] if line == len(lines) else [None, *lines[line][person], "left out"]
        every.append(rests)
    for picks in itertools.product(*every):
        after = tuple(line + (pick is not None) for line, pick in zip(behind, picks, strict=True))
        if any(pick is not None for pick in picks) and max(after) - min(after) <= AHEAD and _allowed(picks, stock):
            yield from _lessons(lines, stock, after, _with_round(cost, behind, picks))


def _allowed(picks, stock) -> bool:
    rows = [pick for pick in picks if isinstance(pick, Option)]
    figures = [row.supervision for row in rows] + [1] * (len(picks) - len(rows))
    used = [kind for row in rows for kind in row.items]
    enough = all(used.count(kind) <= stock.get(kind, 0) for kind in used)
    return sum(figures) <= len(picks) + 2 and figures.count(3) <= 1 and enough


def _with_round(cost: GroupCost, behind, picks) -> GroupCost:
    rows = [pick for pick in picks if isinstance(pick, Option)]
    left = picks.count("left out")
    said = {
        (line, pick.form if isinstance(pick, Option) else "")
        for line, pick in zip(behind, picks, strict=True)
        if pick is not None
    }
    return GroupCost(
        cost.left_out + left,
        cost.instructions + len(said),
        cost.changed + left + sum(row.changed for row in rows),
        cost.nearness + sum(row.nearness for row in rows),
        cost.rounds + 1,
        cost.deciseconds + max((row.deciseconds for row in rows), default=0),
    )
