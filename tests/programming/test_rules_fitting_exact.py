"""The fitted program is the best there is: the whole cost against a general constraint solver, and against trying all.

The solver's model (solver.py) states the definition of `programming.rules.fitting` a second time, independently.
"""

import itertools

import pytest

from programming.rules.fitting import Cost, fit
from programming.rules.marks import Decision
from programming.rules.timing import changes
from studio.rules import ApparatusKind
from tests.programming.fitting_cases import small
from tests.programming.solver import Model, optimum

CASES, AT_ONCE = 1000, 50
EVERYWHERE = frozenset(ApparatusKind)


@pytest.mark.parametrize("first", range(0, CASES, AT_ONCE))
def test_the_whole_cost_is_the_solvers_on_random_cases(first):
    for seed in range(first, first + AT_ONCE):
        case = small(seed, most=5)
        program = fit(**case.fit_arguments())
        assert program.is_proven
        assert tuple(program.cost) == optimum(case), f"case {seed}"


def test_the_random_cases_bind_in_every_way_there_is():
    programs = [fit(**small(seed, most=5).fit_arguments()) for seed in range(200)]
    decisions = {line.decision for program in programs for line in program.lines}
    assert decisions == set(Decision)
    for goal in Cost._fields:
        assert any(getattr(program.cost, goal) for program in programs), f"{goal} is never at stake"
    assert any(line.steps for program in programs for line in program.lines)


def every_program(model):
    """Each choice of one way a line, as the lines that are done with the forms they are done in."""
    return itertools.product(*model.ways)


def cost_by_hand(model, chosen):
    """The cost of one choice counted line by line, None when something hard is broken."""
    done = [(at, way) for at, way in enumerate(chosen) if way.line]
    modes = [{chosen[at].mode for at in (*donors, recipient)} for _, donors, recipient in model.modes]
    used = [way.line.row.rep_pool or way.line.row.id for _, way in done if way.near]
    seconds = sum(model._deciseconds(way.line) for _, way in done)
    if len(used) != len(set(used)) or seconds > model.room or any(len(mode) > 1 for mode in modes):
        return None
    if not all(_in_its_way(model, chosen, entry) for entry in model.modes):
        return None
    have = set()
    for (before_at, before), (at, way) in itertools.pairwise([(None, None), *done]):
        if any(not have & {*group, way.line.row.id} for group in model.open_groups(way.line.row)):
            return None
        if before and _wrong_neighbours(before_at, before, at, way):
            return None
        have |= {way.line.row.id} if way.own else set()
    turned = changes([way.line for _, way in done])
    return (
        *_counts(chosen),
        _lost(model, done),
        _opposition(done),
        turned.springs,
        turned.total - turned.springs,
        model.room - seconds,
    )


def _in_its_way(model, chosen, entry):
    _, donors, recipient = entry
    mode, all_in = chosen[recipient].mode, all(chosen[at].own for at in donors)
    return {"whole": all_in and chosen[recipient].own, "back": all_in and not chosen[recipient].own}.get(
        mode, not all_in
    )


def _wrong_neighbours(before_at, before, at, way):
    if not before.line.same_exercise(way.line) or (before.own and way.own and at == before_at + 1):
        return False
    rises = (way.line.springs or 0) > (before.line.springs or 0)
    return rises or way.line.row.position_in_series <= before.line.row.position_in_series


def _counts(chosen):
    return (
        sum(not way.as_planned for way in chosen),
        sum(not way.own for way in chosen),
        sum(way.line is None for way in chosen),
        sum(way.near for way in chosen),
    )


def _lost(model, done):
    served = {aim for _, way in done for aim in way.line.row.purpose}
    return len({aim for line in model.planned for aim in line.row.purpose} - served)


def _opposition(done):
    flexion = [bool(way.demands & {"flex_loaded", "flex_end"}) for _, way in done]
    extension = [bool(way.demands & {"ext_loaded", "ext_end"}) for _, way in done]
    run = too_many = 0
    for bends, stretches in zip(flexion, extension, strict=True):
        run = run + 1 if bends and not stretches else 0
        too_many += run > 3
    missing = max(0, -(-sum(flexion) // 4) - sum(extension))
    return too_many + missing


def test_on_tiny_cases_nothing_that_can_be_tried_is_cheaper():
    tried = 0
    for seed in range(5000, 5120):
        case = small(seed, most=3)
        model = Model(case)
        programs = 1
        for ways in model.ways:
            programs *= len(ways)
        if programs > 3000:
            continue
        costs = [cost for chosen in every_program(model) if (cost := cost_by_hand(model, chosen))]
        assert tuple(fit(**case.fit_arguments()).cost) == min(costs), f"case {seed}"
        tried += programs
    assert tried > 2000
