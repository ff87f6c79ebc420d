"""One plan for a mixed group: equal to a general solver and to plain enumeration, and within the rules all along."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from programming.rules.groups import MOST_AHEAD, GroupCost, Option, shared_plan
from tests.programming.group_solver import by_enumeration, by_solver
from tests.reference import table

KINDS = ("box", "pole")


def invented(seed, *, people, lines, options=3, figures=(1, 1, 2, 2, 3)):
    """A group at random: forms of a line are shared by the people, each of whom may do some of them."""
    chance = random.Random(seed)
    found = []
    for _ in range(lines):
        forms = [_form(chance, name, figures) for name in "abcd"[:options]]
        found.append([tuple(chance.sample(forms, chance.randint(0, options))) for _ in range(people)])
    return found, {kind: chance.randint(0, 2) for kind in KINDS}


def _form(chance, name, figures):
    near = chance.choice([0, 0, 1, 2, 3])
    items = frozenset(kind for kind in KINDS if chance.random() < 0.25)
    return Option(
        name, chance.choice(figures), items, int(near > 0 or chance.random() < 0.5), near, chance.randint(1, 9)
    )


def same(*forms, people=2, **told):
    """Lines of one option each, the same for everybody."""
    return [[(Option(form, **told),)] * people for form in forms]


def begun(plan):
    """Lines and forms by round, person after person; a dot waits."""
    return [[f"{one.line}{one.option.form if one.option else '-'}" if one else "." for one in at.begun] for at in plan]


@pytest.mark.parametrize("seed", range(120))
def test_no_plan_of_a_tiny_group_costs_less_than_ours(seed):
    lines, stock = invented(seed, people=2 if seed % 4 else 3, lines=2, options=2)
    assert shared_plan(lines, stock).cost == by_enumeration(lines, stock)


@pytest.mark.parametrize("seed", range(120))
def test_a_general_solver_finds_no_plan_that_costs_less(seed):
    people, count = ((2, 2), (2, 3), (3, 2), (2, 4), (3, 2), (2, 3))[seed % 6] if seed % 20 else (3, 3)
    lines, stock = invented(1_000 + seed, people=people, lines=count)
    assert shared_plan(lines, stock).cost == by_solver(lines, stock)


GROUPS = st.builds(
    lambda seed, people, lines: invented(seed, people=people, lines=lines),
    st.integers(0, 10**6),
    st.integers(1, 6),
    st.integers(1, 8),
)


@settings(deadline=None, max_examples=60)
@given(GROUPS)
def test_every_round_keeps_eyes_items_and_distance_and_everybody_does_every_line_once(group):
    lines, stock = group
    plan = shared_plan(lines, stock)
    people = len(lines[0])
    behind = [0] * people
    for at in plan.rounds:
        figures = [one.option.supervision if one and one.option else 1 for one in at.begun]
        assert sum(figures) == at.supervision <= people + 2
        assert figures.count(3) <= 1
        assert all(used <= stock.get(kind, 0) for kind, used in at.items.items())
        for person, one in enumerate(at.begun):
            if one:
                assert one.line == behind[person]
                assert one.option is None or one.option in lines[one.line][person]
                behind[person] += 1
        assert max(behind) - min(behind) <= MOST_AHEAD
    assert behind == [len(lines)] * people


@settings(deadline=None, max_examples=60)
@given(GROUPS)
def test_what_a_plan_says_it_costs_is_what_its_rounds_add_up_to(group):
    lines, stock = group
    plan = shared_plan(lines, stock)
    done = [option for option in plan.chosen.values() if option]
    left = len(plan.chosen) - len(done)
    assert plan.cost == GroupCost(
        left_out=left,
        instructions=sum(at.instructions for at in plan.rounds) - len(lines),
        changed=left + sum(option.changed for option in done),
        nearness=sum(option.nearness for option in done),
        rounds=len(plan.rounds),
        deciseconds=sum(at.deciseconds for at in plan.rounds),
    )


@settings(deadline=None, max_examples=40)
@given(GROUPS)
def test_one_more_option_never_makes_a_plan_dearer(group):
    lines, stock = group
    more = [[*line] for line in lines]
    more[0][0] = (*more[0][0], Option("more", changed=1, nearness=1, deciseconds=5))
    assert shared_plan(more, stock).cost <= shared_plan(lines, stock).cost


def test_people_without_a_difference_do_everything_together_and_nothing_is_said_twice():
    plan = shared_plan(same("a", "b", "c", people=6, deciseconds=600), {})
    assert begun(plan.rounds) == [["0a"] * 6, ["1b"] * 6, ["2c"] * 6]
    assert plan.cost == GroupCost(rounds=3, deciseconds=1800)


def test_two_who_need_something_else_share_it_so_that_it_is_said_once():
    own = Option("planned")
    easier, other = Option("easier", changed=1), Option("other", changed=1)
    plan = shared_plan([[(own,), (easier, other), (other,)]], {})
    assert begun(plan.rounds) == [["0planned", "0other", "0other"]]
    assert plan.cost.instructions == 1


def test_two_rows_with_hands_ready_are_never_taught_at_once():
    plan = shared_plan(same("a", "b", supervision=3, deciseconds=300), {})
    assert all([one.option.supervision for one in at.begun if one].count(3) == 1 for at in plan.rounds)
    assert plan.cost == GroupCost(instructions=2, rounds=4, deciseconds=1200)


def test_one_begins_a_line_later_when_both_rows_want_hands_and_the_next_does_not():
    """Before and after the row with hands ready, both can move: the second goes on while the first is held."""
    hands, alone = Option("h", supervision=3, deciseconds=100), Option("a", deciseconds=100)
    plan = shared_plan([[(hands,)] * 2, [(alone,)] * 2, [(alone,)] * 2], {})
    assert plan.cost.instructions == 1
    assert plan.cost.left_out == 0


def test_one_box_is_used_by_one_person_at_a_time():
    plan = shared_plan(same("a", items=frozenset({"box"})), {"box": 1})
    assert [dict(at.items) for at in plan.rounds] == [{"box": 1}, {"box": 1}]


def test_without_the_box_its_line_is_left_out_by_everybody_and_said_once():
    plan = shared_plan(same("a", items=frozenset({"box"})), {})
    assert begun(plan.rounds) == [["0-", "0-"]]
    assert plan.cost == GroupCost(left_out=2, changed=2, rounds=1)


def test_a_line_is_said_again_rather_than_left_out():
    plan = shared_plan(same("a", people=3, supervision=2), {})
    assert plan.cost.left_out == 0
    assert plan.cost.instructions == 1


@pytest.mark.parametrize("row", table("supervision"), ids=lambda row: f"{row['people']}: {row['figures']}")
def test_a_group_is_taught_at_once_exactly_when_the_table_of_supervision_lets_it(row):
    """Source: the table of supervision sums (studio_default)."""
    figures = [int(figure) for figure in row["figures"].split(";")]
    plan = shared_plan([[(Option(f"row {figure}", figure),) for figure in figures]], {})
    assert (len(plan.rounds) == 1) == (row["passes"] == "y")
    assert plan.cost.left_out == 0


def test_seven_people_nobody_and_uneven_lines_are_refused():
    for lines in ([], same("a", people=7), [[()], [(), ()]]):
        with pytest.raises(ValueError, match="one to six"):
            shared_plan(lines, {})


def test_the_answer_is_the_same_every_time():
    lines, stock = invented(7, people=5, lines=12)
    assert shared_plan(lines, stock).rounds == shared_plan(lines, stock).rounds
