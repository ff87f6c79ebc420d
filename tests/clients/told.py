"""Anything a client may have told, and whatever a letter or the owner may say to it, for the checks by chance."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import strategies as st

from clients.rules import (
    ActiveCondition,
    Choices,
    LetterTerms,
    Level,
    Outcome,
    Pregnancy,
    Pressure,
    Readings,
    Restriction,
    Rulebook,
    Screened,
    ScreeningFacts,
    Side,
    adjusting,
)
from clients.rules.facts import Disease, Today, ToldFlag
from clients.rules.limits import LimitFound, Relaxed
from clients.rules.outcomes import LEVELS, OUTCOMES
from clients.rules.reference import Intensity
from tests.reference import tables

ON = date(2026, 3, 2)
BOOK = Rulebook.from_tables(tables())
WELL = ScreeningFacts(
    written_on=ON,
    regularly_active=False,
    diseases=frozenset(),
    symptoms=frozenset(),
    intensity=Intensity.LIGHT_MODERATE,
)
# Whatever a letter might name: leaves, signs, flags, gates, conditions, questions.
RULE_IDS = sorted(
    {f"leaf {leaf.leaf}" for leaf in BOOK.leaves}
    | {*BOOK.symptoms, *BOOK.red_flags, *BOOK.bp_gates, *BOOK.pregnancy_gates, *BOOK.conditions, *BOOK.questions}
    | {"pressure", "heart_rate", "screening_form", "H13.due"}
)
LINES = tuple(point for point in adjusting.points(BOOK) if point.kind is adjusting.PointKind.LINE)

days_ago = st.one_of(st.none(), st.integers(0, 500).map(lambda days: ON - timedelta(days=days)))
conditions = st.builds(
    ActiveCondition,
    condition_id=st.sampled_from(sorted(BOOK.conditions)),
    side=st.one_of(st.none(), st.sampled_from(Side)),
    since=days_ago,
    needs_clearance=st.sampled_from([True, False, None]),
    is_held=st.booleans(),
)
some_demands = st.frozensets(st.sampled_from(sorted(BOOK.demands)), max_size=6)
restrictions = st.builds(
    Restriction,
    demands=some_demands,
    told_at=st.sampled_from(["H10", "H16", "letter:1", "teacher:1"]),
    level=st.sampled_from(Level),
    side=st.one_of(st.none(), st.sampled_from(Side)),
)
letters = st.builds(
    LetterTerms,
    letter_id=st.sampled_from(["1", "2", "3"]),
    dated=st.one_of(st.none(), st.integers(-10, 400).map(lambda days: ON - timedelta(days=days))),
    holds_until=st.integers(-30, 200).map(lambda days: ON + timedelta(days=days)),
    answers=st.one_of(st.just(frozenset(RULE_IDS)), st.frozensets(st.sampled_from(RULE_IDS), max_size=8)),
    effort=st.one_of(st.none(), st.sampled_from(Intensity)),
    allows=st.one_of(st.just(frozenset(BOOK.demands)), some_demands),
    forbids=some_demands,
    is_named=st.sampled_from([True, True, False]),
    told=st.one_of(st.none(), st.frozensets(st.sampled_from(["S5", "S6", "diabetes", "heart_or_vessels"]))),
)
pressures = st.lists(st.builds(Pressure, st.integers(90, 200), st.integers(50, 130)), max_size=3).map(tuple)
readings = st.builds(
    Readings,
    pressures=pressures,
    told=st.one_of(st.none(), st.builds(Pressure, st.integers(90, 200), st.integers(50, 130))),
    heart_rate=st.one_of(st.none(), st.integers(40, 130)),
    is_treated=st.sampled_from([True, False, None]),
    has_signs=st.sampled_from([True, False, None]),
    standing_drop=st.one_of(st.none(), st.integers(0, 30)),
    faint_with_low_pressure=st.booleans(),
)
pregnancies = st.builds(
    Pregnancy,
    st.one_of(st.none(), st.integers(-10, 270).map(lambda days: ON + timedelta(days=days))),
    st.frozensets(st.sampled_from(sorted(BOOK.pregnancy_gates)), max_size=1),
)
facts = st.builds(
    ScreeningFacts,
    written_on=st.sampled_from([ON, ON, ON - timedelta(days=5), ON - timedelta(days=340)]),
    regularly_active=st.sampled_from([True, False, None]),
    diseases=st.one_of(st.just(frozenset()), st.none(), st.frozensets(st.sampled_from(Disease))),
    symptoms=st.one_of(st.just(frozenset()), st.none(), st.frozensets(st.sampled_from(sorted(BOOK.symptoms)))),
    chest_pain_is_new=st.booleans(),
    intensity=st.one_of(st.none(), st.sampled_from(Intensity)),
    conditions=st.lists(conditions, max_size=4).map(tuple),
    flags=st.lists(
        st.builds(ToldFlag, st.sampled_from(sorted(BOOK.red_flags)), st.sampled_from([True, False, None])), max_size=1
    ).map(tuple),
    readings=st.one_of(st.just(Readings()), readings),
    pregnancy=st.one_of(st.none(), pregnancies),
    today=st.frozensets(st.sampled_from(Today), max_size=1),
    restrictions=st.lists(restrictions, max_size=2).map(tuple),
    letters=st.lists(letters, max_size=2).map(tuple),
    supervised_only=st.booleans(),
)

# Nothing is found but by what was measured, so that a line decides.
measured = st.builds(
    lambda taken, expecting, signs: replace(WELL, readings=taken, pregnancy=expecting, symptoms=signs),
    readings,
    st.one_of(st.none(), st.none(), st.just(Pregnancy(ON + timedelta(days=150)))),
    st.sampled_from([frozenset(), frozenset(), frozenset({"S5"})]),
)


def moved(point: adjusting.Point) -> st.SearchStrategy[tuple[str, int]]:
    """The point with a value that the owner may choose there."""
    assert point.bound is not None and point.farthest is not None
    low, high = sorted((point.bound, point.farthest))
    return st.tuples(st.just(point.id), st.integers(low, high))


moved_lines = st.lists(st.sampled_from(LINES).flatmap(moved), max_size=6).map(dict)
choices = st.builds(
    Choices,
    regime=st.sampled_from(adjusting.REGIMES),
    positions_b=st.sampled_from([frozenset(), frozenset({"D01"})]),
    lines=moved_lines,
)


def strictness(found: Screened | Outcome) -> int:
    """Higher is stricter."""
    return -OUTCOMES.index(found.outcome if isinstance(found, Screened) else found)


def sided(limits: Iterable[LimitFound | Relaxed]) -> dict[tuple[str, Side], Level]:
    """The level of each demand on each side."""
    sides = {Side.BOTH: (Side.LEFT, Side.RIGHT), Side.LEFT: (Side.LEFT,), Side.RIGHT: (Side.RIGHT,)}
    return {(limit.demand, side): limit.level for limit in limits for side in sides[limit.side]}


def is_nowhere_looser(after: Screened, before: Screened) -> bool:
    """Whether the outcome and every limit after are at least as strict as before."""
    held = sided(after.limits)
    return strictness(after) >= strictness(before) and all(
        place in held and LEVELS.index(held[place]) <= LEVELS.index(level)
        for place, level in sided(before.limits).items()
    )
