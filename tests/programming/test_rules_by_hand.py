"""What a teacher may choose by hand: never what is to be avoided, and what fitting chose is always among it."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clients.rules.outcomes import Level
from programming.rules import by_hand, differences, fitting
from programming.rules.by_hand import Chosen
from programming.rules.fitting import LimitFact
from programming.rules.fitting.candidates import Given
from programming.rules.fitting.forms import Demands
from programming.rules.lines import resolved
from programming.rules.marks import Decision
from programming.rules.repertoire import from_tables
from programming.rules.springs import DEFAULT_WEIGHTS, SpringSet
from programming.rules.timing import Pace
from studio.rules import ApparatusKind
from tests.programming.reference import FOUNDATION, REPERTOIRE, TIMES, planned
from tests.reference import table, tables

DEMANDS = sorted(row["code"] for row in table("demands"))
LADDERS: dict[str, list] = {}
for ladder in from_tables(tables()).ladders.values():
    for step in ladder.steps:
        for key in step.exercise_ids:
            LADDERS.setdefault(key, []).append(step)
SPRINGS = SpringSet.of("HHMML")
HERE = frozenset(ApparatusKind)
few_limits = st.dictionaries(
    st.sampled_from(DEMANDS), st.sampled_from([Level.AVOID, Level.ADAPT]).map(LimitFact), max_size=4
)
calm = settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def facts_of(limits) -> by_hand.Facts:
    given_all = Given(
        repertoire=REPERTOIRE,
        limits=Demands.of({demand: fact.level for demand, fact in limits.items()}),
        ladders=LADDERS,
        owned=frozenset(REPERTOIRE),
        known=None,
        waived=frozenset(),
        ceilings={},
        inventory=SPRINGS,
        weights=DEFAULT_WEIGHTS,
        here=HERE,
        times=TIMES,
        pace=Pace.WORKING,
    )
    return by_hand.Facts(given_all, limits, frozenset())


def fitted(limits) -> fitting.FittedProgram:
    return fitting.fit(
        planned(FOUNDATION), limits, REPERTOIRE, times=TIMES, owned=frozenset(REPERTOIRE), inventory=SPRINGS,
        at_hand=HERE, ladders=LADDERS,
    )  # fmt: skip


def as_chosen(found: fitting.FittedProgram, facts: by_hand.Facts) -> list[Chosen]:
    lines = resolved(planned(FOUNDATION), REPERTOIRE)
    return [
        by_hand.as_it_stands(
            line, REPERTOIRE[one.exercise_id] if one.exercise_id else None, demands=one.demands, steps=one.steps,
            reps=None, facts=facts,
        )
        for line, one in zip(lines, found.lines, strict=True)
    ]  # fmt: skip


@calm
@given(few_limits)
def test_no_choice_brings_an_avoided_demand_and_leaving_out_is_always_one(limits):
    facts = facts_of(limits)
    program = as_chosen(fitted(limits), facts)
    for one in program[::4]:
        found = by_hand.choices(one.planned, program, facts)
        assert found[-1].key == by_hand.OUT
        assert all(facts.given.limits.allows(choice.form.demands) for choice in found[:-1])
        assert len({choice.key for choice in found}) == len(found)


@calm
@given(few_limits)
def test_what_fitting_chose_made_whole_again_is_the_same_program(limits):
    facts, found = facts_of(limits), fitted(limits)
    again = by_hand.composed(as_chosen(found, facts), facts)
    told = [(one.exercise_id, one.decision, one.reps, one.springs, round(one.seconds, 3)) for one in again]
    assert told == [
        (one.exercise_id, one.decision, one.reps, one.springs, round(one.seconds, 3)) for one in found.lines
    ]


@calm
@given(few_limits)
def test_two_equal_fits_have_no_difference_and_taking_nothing_keeps_them(limits):
    facts = facts_of(limits)
    program = as_chosen(fitted(limits), facts)
    assert differences.differences(program, program, facts) == ()
    assert differences.mixed(program, program, (), ()) == program


@calm
@given(few_limits, few_limits)
def test_whatever_is_accepted_nothing_avoided_stays(before, after):
    facts = facts_of(after)
    old, new = as_chosen(fitted(before), facts), as_chosen(fitted(after), facts)
    found = differences.differences(old, new, facts)
    kept = differences.mixed(old, new, found, [one.position for one in found[::2]])
    assert all(facts.given.limits.allows(one.form.demands) for one in kept if one.form)
    done = [one.line.row.id for one in kept if one.line]
    assert len(done) == len(set(done))


def test_every_line_as_planned_is_what_it_is():
    facts = facts_of({})
    assert {one.decision for one in as_chosen(fitted({}), facts)} == {Decision.AS_PLANNED}
