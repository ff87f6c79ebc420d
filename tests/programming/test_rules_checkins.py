"""The check-in: what a sore place asks of movements today, that it only tightens, and where stop signs lead."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules.outcomes import Level
from programming.rules import bodies, checkins
from programming.rules.checkins import Answers, Route, Side, Slept, Sore
from programming.rules.fitting import LimitFact
from tests.reference import table

DEMANDS = {row["code"] for row in table("demands")}
STRICT = [Level.AVOID, Level.ADAPT, Level.WATCH]
WRIST = Answers((Sore("wrist", Side.LEFT),), pain=3)

sores = st.builds(Sore, st.sampled_from(sorted(checkins.BY_KEY)))
answers = st.builds(Answers, st.lists(sores, max_size=4).map(tuple), st.integers(0, 10))
limits = st.dictionaries(st.sampled_from(sorted(DEMANDS)), st.sampled_from(STRICT).map(LimitFact), max_size=12)


def levels(found) -> dict[str, str]:
    return {demand: fact.level.value for demand, fact in found.items()}


# --- the table -------------------------------------------------------------------------------------------------------


def test_every_place_speaks_of_demands_and_notes_that_exist_and_of_none_twice():
    for site in checkins.SITES:
        spoken = site.loads + site.disturbs
        assert set(spoken) <= DEMANDS and len(spoken) == len(set(spoken))
        assert not site.note or site.note in bodies.BY_KEY


def test_every_sign_rests_on_rows_of_the_stop_signs_or_the_red_flags():
    known = {row["id"] for row in table("stop_signs")} | {row["id"] for row in table("red_flags")}
    for sign in checkins.SIGNS:
        assert sign.rows and set(sign.rows) <= known


def test_a_sign_whose_red_flag_is_an_emergency_is_an_emergency_here():
    """red_flags.csv, column route."""
    routes = {row["id"]: row["route"] for row in table("red_flags")}
    for sign in checkins.SIGNS:
        if any(routes.get(row) == "emergency" for row in sign.rows):
            assert sign.route is Route.EMERGENCY


# --- findings --------------------------------------------------------------------------------------------------------


def test_a_left_wrist_sore_at_three_leaves_weight_on_it_out_and_changes_gripping():
    """Common practice, no source; the case is the studio's own story."""
    found = checkins.findings(WRIST)
    assert levels(found) == {"wrist_wb": "avoid", "grip": "adapt"}
    assert found["wrist_wb"].because == ("checkin:wrist.left",)
    assert checkins.because_words("checkin:wrist.left") == "today's check-in: left wrist or hand"


@pytest.mark.parametrize(
    ("pain", "loads", "disturbs"),
    [(0, "watch", "watch"), (1, "adapt", "watch"), (2, "adapt", "watch"), (3, "avoid", "adapt"), (4, "avoid", "avoid")],
)
def test_more_pain_asks_more(pain, loads, disturbs):
    found = checkins.findings(Answers((Sore("knee", Side.RIGHT),), pain=pain))
    assert found["kneel"].level.value == loads
    assert found["impact"].level.value == disturbs


def test_turned_and_rounded_takes_the_strictest_of_turning_and_rounding():
    """screening.md, section 2."""
    found = checkins.findings(Answers((Sore("low_back"),), pain=2))
    assert found["flex_end"].level is Level.ADAPT and found["rot_flex"].level is Level.ADAPT
    assert checkins.findings(Answers((Sore("belly"),), pain=5))["rot_flex"].level is Level.AVOID


@given(answers)
def test_turned_and_rounded_is_never_looser_than_its_parts(said):
    found = checkins.findings(said)
    for part in ("rotation", "flex_loaded", "flex_end"):
        if part in found:
            assert STRICT.index(found["rot_flex"].level) <= STRICT.index(found[part].level)


@given(answers, st.integers(0, 10))
def test_more_pain_never_loosens_anything(said, more):
    less, worse = sorted([said.pain, more])
    before, after = (checkins.findings(Answers(said.sores, pain)) for pain in (less, worse))
    assert before.keys() == after.keys()
    assert all(STRICT.index(after[key].level) <= STRICT.index(before[key].level) for key in before)


@given(limits, answers)
def test_a_check_in_never_loosens_a_limit_on_record(standing, said):
    """screening.md, section 5: today's check-in may add, never remove."""
    today = checkins.findings(said)
    merged = checkins.tightened(standing, today)
    assert merged.keys() == standing.keys() | today.keys()
    for demand, fact in merged.items():
        spoken = [one[demand].level for one in (standing, today) if demand in one]
        assert fact.level is min(spoken, key=STRICT.index)


@given(limits)
def test_a_check_in_with_nothing_new_changes_nothing(standing):
    assert checkins.tightened(standing, checkins.findings(Answers())) == standing


def test_a_standing_limit_of_the_same_level_keeps_its_words_and_gains_todays_reason():
    standing = {"wrist_wb": LimitFact(Level.AVOID, ("C38",), "fists only", ("some_source",))}
    merged = checkins.tightened(standing, checkins.findings(WRIST))["wrist_wb"]
    assert merged.how == "fists only"
    assert merged.because == ("C38", "checkin:wrist.left")
    assert merged.source_ids == ("some_source", "studio_practice")


def test_a_sore_place_chooses_its_set_ups_too():
    assert checkins.notes(WRIST) == {"sore_wrists"}
    assert checkins.notes(Answers()) == frozenset()


# --- what follows ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("pain", "asks"), [(0, False), (3, False), (4, True), (10, True)])
def test_pain_of_four_or_more_asks_for_a_review(pain, asks):
    """review_intervals.csv, immediate_pain: "pain 4 of 10 or more"."""
    assert Answers((Sore("neck"),), pain=pain).asks_review is asks


def test_the_strictest_sign_decides_the_route():
    assert Answers().route is None
    assert Answers(signs=("dizzy",)).route is Route.NOT_TODAY
    assert Answers(signs=("dizzy", "chest")).route is Route.EMERGENCY


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (Answers(), "nothing new"),
        (Answers(slept=Slept.BADLY), "slept badly"),
        (WRIST, "left wrist or hand; pain 3"),
        (Answers((Sore("knee"), Sore("neck")), 2, Slept.WELL), "both: knee, neck; pain 2; slept well"),
    ],
)
def test_a_check_in_is_told_in_one_line(said, words):
    assert checkins.told(said) == words


@pytest.mark.parametrize(
    ("said", "codes"),
    [
        (Answers(), set()),
        (WRIST, set()),
        (Answers(pain=3), {"where"}),
        (Answers((Sore("wrist"),), pain=11), {"pain"}),
        (Answers((Sore("tail"),), pain=1), {"unknown_site"}),
        (Answers((Sore("neck", Side.LEFT),), pain=1), {"unknown_site"}),
        (Answers(signs=("green",)), {"unknown_sign"}),
    ],
)
def test_what_nobody_can_have_said_is_refused(said, codes):
    assert {reason.code for reason in checkins.refusals(said)} == codes
