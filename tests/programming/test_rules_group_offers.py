"""What each person of a group may do at each line, from her own fit; limits come from the reference tables."""

from functools import partial

import pytest

from clients.rules import Rulebook
from programming.rules.fitting import fit
from programming.rules.groups import NotYet, Person, barred, not_yet, offers, options_of, shared_plan
from programming.rules.lines import PlannedLine
from programming.rules.marks import Decision
from studio.rules import ApparatusKind
from tests.programming.reference import FOUNDATION, REPERTOIRE, TIMES, planned
from tests.programming.test_rules_fitting import limits_of
from tests.reference import tables

REFORMER = ApparatusKind.REFORMER
NINE = FOUNDATION[:9]


def person(*conditions, kind=REFORMER, **told):
    given = {"times": TIMES, "minutes": 240, "owned": frozenset(REPERTOIRE), "at_hand": set(ApparatusKind), **told}
    return Person(partial(_fit, limits_of(*conditions), given), kind)


def _fit(limits, given, lines):
    return fit(lines, limits, REPERTOIRE, **given)


def plan_of(ids, people, **told):
    found = offers(planned(ids), people, REPERTOIRE, **told)
    return found, shared_plan(options_of(found), {})


def test_people_without_limits_are_offered_the_plan_and_nothing_else():
    found, plan = plan_of(NINE, [person(), person(), person()])
    assert all(len(options) == 1 for line in found for options in line)
    assert {offer.line.decision for line in found for options in line for offer in options} == {Decision.AS_PLANNED}
    assert plan.cost[:4] == (0, 0, 0, 0)


def test_whoever_may_do_a_line_as_planned_is_not_held_back_by_the_others():
    found, _ = plan_of(NINE, [person(), person("C01")])
    assert all(line[0][0].line.decision is Decision.AS_PLANNED for line in found)


def test_two_with_the_same_limits_change_together_and_the_change_is_said_once():
    _, alone = plan_of(NINE, [person(), person("C01")])
    _, both = plan_of(NINE, [person(), person("C01"), person("C01")])
    assert alone.cost.instructions > 0
    assert both.cost.instructions == alone.cost.instructions


def test_with_one_voice_all_join_the_easier_form_and_less_is_said():
    people = [person(), person("C01")]
    _, own = plan_of(NINE, people)
    _, one = plan_of(NINE, people, one_voice=True)
    assert one.cost.instructions <= own.cost.instructions


def test_nobody_is_offered_a_demand_to_avoid():
    limits = limits_of("C38", "C01")
    avoided = {demand for demand, fact in limits.items() if fact.level == "avoid"}
    found, _ = plan_of(FOUNDATION, [person(), person("C38", "C01"), person("C38")], one_voice=True)
    assert all(not offer.line.demands & avoided for line in found for offer in line[1])


def test_nobody_is_offered_one_exercise_at_two_lines():
    found, _ = plan_of(FOUNDATION, [person("C38"), person("C01"), person("C38", "C01")])
    for who in range(3):
        at = [{offer.line.exercise_id for offer in line[who]} for line in found]
        seen = [key for keys in at for key in keys]
        assert len(seen) == len(set(seen))


def test_a_stand_in_keeps_the_reason_of_the_line_it_stands_for():
    found, plan = plan_of(["R-LS1"], [person(), person("C38"), person("C38")])
    line = found[0][1][0].line
    assert line.decision is Decision.SWAPPED
    assert line.planned_exercise_id == "R-LS1"
    assert any(why.exercise_id == "R-LS1" and why.demand == "wrist_wb" for why in line.why)
    first, second = plan.option(0, 1), plan.option(0, 2)
    assert first.form == second.form


def test_a_box_is_counted_only_where_the_studio_keeps_boxes_to_share():
    (with_box,) = offers(planned(["R-SB1"]), [person()], REPERTOIRE, shared={"box"})
    (without,) = offers(planned(["R-SB1"]), [person()], REPERTOIRE)
    assert with_box[0][0].option.items == {"box"}
    assert without[0][0].option.items == frozenset()


def test_whoever_lies_on_a_chair_of_her_own_shares_none():
    (line,) = offers([PlannedLine("1", "C-01")], [person(), person(kind=ApparatusKind.CHAIR)], REPERTOIRE,
                     shared={"chair"})  # fmt: skip
    assert [one[0].option.items for one in line] == [{"chair"}, frozenset()]


def test_level_five_that_somebody_does_not_own_is_not_learned_in_a_group():
    level_five = next(row.id for row in REPERTOIRE.values() if row.level == 5)
    may_not = barred(REPERTOIRE, owned=frozenset())
    assert level_five in may_not
    learner = Person(person().fit, REFORMER, may_not)
    (line,) = offers(planned([level_five]), [person(), learner], REPERTOIRE)
    assert line[0] and not line[1]


CONDITIONS = Rulebook.from_tables(tables()).conditions


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ({"first_visit": True}, NotYet.FIRST),
        ({"because": ["C33"]}, NotYet.FRESH),  # an ankle sprain within six weeks
        ({"because": ["C26"]}, NotYet.FRESH),  # a hip replacement within twelve weeks
        ({"because": ["C47"]}, NotYet.FRESH),  # a concussion until it is free of symptoms
        ({"pains": [4]}, NotYet.SORE),
        ({"pains": [3]}, None),
        ({"because": ["C01", "C27"]}, None),  # stable, and a hip that was released
        ({"because": ["C22", "C45"]}, None),  # after a birth, and a seizure: cared for, but no injury
        ({}, None),
    ],
)
def test_no_first_lesson_no_fresh_injury_and_no_sore_day_in_a_group(told, expected):
    """Source: the domain rule of groups (studio_practice); what counts as fresh is studio_default."""
    given = {"first_visit": False, "because": [], "pains": [], **told}
    assert not_yet(**given, conditions=CONDITIONS) is expected
