"""Every row of the reference is reached by somebody who answers the form, screen by screen.

Nothing is built by hand on the way: each screen is asked for, its answers are posted as words and cleaned, the answers
are read as facts, and the facts are screened.
"""

from datetime import date, timedelta

import pytest

from clients.rules import Level, Outcome, Rulebook, Screened, Side, form, screen
from clients.rules.form import questions
from clients.rules.form.fields import Field, FieldKind, Screen
from clients.rules.outcomes import LEVELS
from clients.rules.screening import conditions_in_force
from tests.reference import tables

ON = date(2026, 3, 2)
BOOK = Rulebook.from_tables(tables())
MOST_SCREENS = 120
CALM_WORDS = ("none", "usual", "light_moderate", "no", "light")
Told = dict[str, str | list[str]]
CLEAR, LIMITED, REFER = Outcome.CLEAR, Outcome.CLEAR_LIMITED, Outcome.REFER
POSTPONE, EMERGENCY, INCOMPLETE = Outcome.POSTPONE, Outcome.EMERGENCY, Outcome.INCOMPLETE


def ago(days: int) -> str:
    return (ON - timedelta(days=days)).isoformat()


def due_at(gestation: int) -> str:
    return (ON + timedelta(days=280 - gestation)).isoformat()


def has(question: str, condition: str, **details: str) -> Told:
    """A yes to the question, the condition chosen below it, and what is asked of it; `no` to its clearance question."""
    told: Told = {question: "yes", f"{question}.conditions": [condition]}
    if question == "H07":
        told["H07.where"] = ["lower_back"]
    if question == "H10":
        told["H10.terms"] = ["none"]
    return told | {f"{condition}.{part}": value for part, value in details.items()}


def high(**parts: str) -> Told:
    told: Told = {"H05": "high"}
    return told | {f"H05.{part}": value for part, value in parts.items()}


def birth(days: int, way: str) -> Told:
    return {"H13": ["birth"], "H13.birth": ago(days), "H13.way": way, "C22.clearance": "no"}


def pregnant(gestation: int, field: str = "", gate: str = "") -> Told:
    told: Told = {"H13": ["pregnant"], "H13.due": due_at(gestation)}
    return told | {name: [gate if name == field else "none"] for name in ("H13.gates", "H13.talk", "H13.now")}


# Who tells of an operation elsewhere in the form does not deny one here.
OPERATED: Told = {"H10": "yes", "H10.conditions": ["other"], "H10.terms": ["none"]}
# Who tells what, and the outcome it ends in.
PEOPLE: dict[str, tuple[Told, Outcome]] = {
    "C01": (has("H09", "C01", clearance="no"), CLEAR),
    "C02": (has("H09", "C02"), CLEAR),
    "C03": (has("H09", "C03", since=ago(30), still="no"), REFER),
    "C04": (has("H09", "C03", since=ago(84), still="no"), REFER),
    "C05": (has("H07", "C05", since=ago(30), side="left", still="yes", clearance="no"), LIMITED),
    "C06": (has("H07", "C05", since=ago(84), side="left", still="no", clearance="no"), CLEAR),
    "C07": (has("H07", "C07", clearance="no"), CLEAR),
    "C08": (has("H07", "C08", clearance="no"), CLEAR),
    "C09": (has("H07", "C09"), REFER),
    "C10": (has("H07", "C10", side="right", clearance="no"), CLEAR),
    "C11": (has("H07", "C11", side="left", clearance="no"), CLEAR),
    "C12": (has("H10", "C12", since=ago(30)), REFER),
    "C12b": (has("H10", "C12", since=ago(84)), REFER),
    "C13": (has("H07", "C13", side="both", clearance="no"), CLEAR),
    "C14": (high(treated="yes", controlled="yes"), CLEAR),
    "C15": (high(treated="no", controlled="no"), INCOMPLETE),
    "C16": (has("H11", "C16", clearance="no"), CLEAR),
    "C17": (has("H11", "C17", since=ago(20), side="right", still="yes"), REFER),
    "C18": (has("H14", "C18", clearance="no"), CLEAR),
    "C19": (pregnant(97), CLEAR),
    "C20": (pregnant(98), CLEAR),
    "C21": (pregnant(196), CLEAR),
    "C22": (birth(41, "vaginal"), LIMITED),
    "C22b": (birth(83, "vaginal"), LIMITED),
    "C23": (birth(83, "caesarean") | OPERATED, REFER),
    "C24": (has("H14", "C24"), CLEAR),
    "C25": (has("H14", "C25", clearance="no"), CLEAR),
    "C26": (has("H10", "C26", since=ago(83), side="left"), REFER),
    "C27": (has("H10", "C26", since=ago(84), side="left"), REFER),
    "C28": (has("H08", "C28", since=ago(83), side="right") | OPERATED, REFER),
    "C29": (has("H08", "C29", side="left"), CLEAR),
    "C30": (has("H10", "C30", since=ago(10), side="right"), REFER),
    "C31": (has("H08", "C31", side="left", clearance="no"), CLEAR),
    "C32": (has("H08", "C32", side="both"), CLEAR),
    "C33": (has("H08", "C33", since=ago(41), side="left", clearance="no"), LIMITED),
    "C34": (has("H08", "C34", side="left"), CLEAR),
    "C35": (has("H08", "C35", side="right", clearance="no"), CLEAR),
    "C36": (has("H08", "C36", side="right"), CLEAR),
    "C37": (has("H08", "C37", side="left", clearance="no"), CLEAR),
    "C38": (has("H08", "C38", side="left", clearance="no"), CLEAR),
    "C39": (has("H08", "C39", side="right"), CLEAR),
    "C40": (has("H12", "C40", clearance="no"), CLEAR),
    "C41": (has("H08", "C41", side="left"), CLEAR),
    "C42": (has("H12", "C42", clearance="no"), CLEAR),
    "C43": (has("H12", "C43"), REFER),
    "C44": (has("H11", "C44", clearance="no"), CLEAR),
    "C45": (has("H11", "C45", since=ago(365)), REFER),
    "C46": (has("H11", "C45", since=ago(366)), CLEAR),
    "C47": (has("H11", "C47"), REFER),
    "C48": (has("H12", "C48", clearance="no"), CLEAR),
    "C49": (has("H12", "C49"), REFER),
    "C50": (has("H10", "C50", since=ago(83), side="left", clearance="no"), REFER),
    "C51": (has("H12", "C51", side="left", clearance="no"), CLEAR),
    "C52": (has("H02", "C52", since=ago(83), side="left"), REFER),
    "C53": (has("H02", "C52", since=ago(84), side="left"), REFER),
    "C54": (has("H02", "C54", since=ago(83)), REFER),
    "C55": (has("H06", "C55"), CLEAR),
    "C56": (has("H03", "C56"), REFER),
    "C57": (has("H03", "C57"), REFER),
    "C58": (has("H02", "C58"), REFER),
    "C59": (has("H14", "C59"), REFER),
    "C60": ({"H05": "low", "C60.clearance": "no"}, CLEAR),
    "C61": (has("H07", "C61"), CLEAR),
}
SPINE: Told = {"H07": "yes", "H07.where": ["lower_back", "neck"], "H07.conditions": ["C61"]}
FLAGS: dict[str, tuple[Told, Outcome]] = {
    **{flag: (SPINE | {flag: "new"}, EMERGENCY) for flag in ("F01", "F02", "F03", "F04")},
    "F05": ({"F05": "yes"}, POSTPONE),
    "F06": (SPINE | {"F06": "yes"}, POSTPONE),
    "F07": (SPINE | {"F07": "yes"}, REFER),
    "F08": (SPINE | {"F08": "yes"}, REFER),
    "F09": (SPINE | {"F09": "yes"}, REFER),
    "F10": (SPINE | {"F10": "yes"}, REFER),
    "F11": ({"H08": "yes", "H08.conditions": ["other"], "F11": "yes"}, REFER),
    "F12": ({"F12": "yes"}, REFER),
    "F13": ({"H08": "yes", "H08.conditions": ["other"], "F13": "yes"}, REFER),
    "F14": (SPINE | {"F14": "yes"}, REFER),
    "F15": (SPINE | {"F15": "yes"}, POSTPONE),
    "F16": (SPINE | {"F16": "yes"}, POSTPONE),
    "F17": ({"F17": "yes"}, POSTPONE),
    **{flag: ({flag: "yes"}, EMERGENCY) for flag in ("F18", "F19", "F20", "F21", "F22")},
    "F23": (SPINE | {"F23": "yes"}, POSTPONE),
    "F24": (SPINE | {"F24": "yes"}, POSTPONE),
}
LISTED = {"absolute": "H13.gates", "relative": "H13.talk", "stop_sign": "H13.now"}
# The low placenta is asked about once, with the earlier week; both entries then count, each from its own.
ASKED_AS = {"P04": "P13"}


def words(field: Field, told: Told) -> list[str]:
    """What this person posts for a field: her own answer, else that of somebody with nothing to tell."""
    if field.id in told:
        own = told[field.id]
        return own if isinstance(own, list) else [own]
    if not field.required:
        return []
    if field.kind is FieldKind.NUMBER:
        return ["0"]
    calm = [choice.value for choice in field.choices if choice.value in CALM_WORDS]
    assert calm, f"{field.id} wants a concrete answer"
    return calm[:1]


def walked(told: Told) -> tuple[dict[str, object], list[Screen]]:
    """The answers of somebody who goes through the form to its end, and the screens she saw. All she tells is asked."""
    answers: dict[str, object] = {}
    seen: list[Screen] = []
    posted: set[str] = set()
    for _ in range(MOST_SCREENS):
        one = form.next_screen(BOOK, answers, on=ON, after=seen[-1].id if seen else "")
        if one is None or one.kind == "emergency":
            seen += [one] if one else []
            break
        values, errors = form.clean(one, {field.id: words(field, told) for field in one.fields}, on=ON)
        assert errors == {}
        answers |= values
        posted |= {field.id for field in one.fields}
        seen.append(one)
    else:
        raise AssertionError("the form does not end")
    is_stopped = seen[-1].kind == "emergency"
    assert is_stopped or set(told) <= posted, f"never asked: {sorted(set(told) - posted)}"
    assert is_stopped or form.doubts(BOOK, answers, on=ON) == []
    return answers, seen


def screened(told: Told) -> Screened:
    answers, _ = walked(told)
    return screen(form.facts(BOOK, answers, on=ON), BOOK, on=ON)


def rule_ids(found: Screened) -> set[str]:
    return {reason.rule_id for reason in found.reasons}


def test_every_row_has_somebody_who_tells_of_it():
    assert list(PEOPLE) == list(BOOK.conditions)
    assert list(FLAGS) == list(BOOK.red_flags)


def test_somebody_with_nothing_to_tell_walks_through_to_clear():
    found = screened({})
    assert (found.outcome, found.limits, rule_ids(found)) == (CLEAR, (), {"leaf 1"})


@pytest.mark.parametrize("condition_id", PEOPLE)
def test_the_condition_is_in_force_with_all_its_limits(condition_id):
    told, expected = PEOPLE[condition_id]
    answers, _ = walked(told)
    facts = form.facts(BOOK, answers, on=ON)
    found = screen(facts, BOOK, on=ON)

    assert [one.condition_id for one in conditions_in_force(facts, BOOK, on=ON)] == [condition_id]
    assert found.outcome is expected
    held = {limit.demand: limit for limit in found.limits}
    for rule in BOOK.limits_by_condition[condition_id]:
        assert LEVELS.index(held[rule.demand].level) <= LEVELS.index(rule.level)
        assert held[rule.demand].because == (condition_id,)


@pytest.mark.parametrize("condition_id", [row.id for row in BOOK.conditions.values() if row.is_sided])
def test_a_sided_condition_limits_the_side_that_was_told(condition_id):
    told, _ = PEOPLE[condition_id]
    (field,) = [one for one in told if one.endswith(".side")]
    for word, side in (("left", Side.LEFT), ("right", Side.RIGHT), ("both", Side.BOTH), ("not_sure", Side.BOTH)):
        assert {limit.side for limit in screened(told | {field: word}).limits} == {side}


@pytest.mark.parametrize("condition_id", sorted(questions.CLEARANCE_QUESTIONS))
@pytest.mark.parametrize("word", ["yes", "not_sure"])
def test_a_yes_or_a_not_sure_to_what_decides_about_a_doctors_word_asks_for_it(condition_id, word):
    told, _ = PEOPLE[condition_id]
    assert screened(told | {f"{condition_id}.clearance": word}).outcome is REFER


@pytest.mark.parametrize("flag_id", FLAGS)
def test_the_red_flag_speaks_and_leads_where_it_should(flag_id):
    told, expected = FLAGS[flag_id]
    found = screened(told)
    assert flag_id in rule_ids(found)
    assert found.outcome is expected


@pytest.mark.parametrize("flag_id", [flag_id for flag_id, (_, ends) in FLAGS.items() if ends is EMERGENCY])
def test_an_emergency_stops_the_form_at_once(flag_id):
    told, _ = FLAGS[flag_id]
    answers, seen = walked(told)
    assert [one.kind for one in seen[-2:]] == ["questions", "emergency"]
    # The screen before the words is the one with the sign on it: nothing was asked in between.
    assert flag_id in {field.id for field in seen[-2].fields}
    assert set(answers) == {field.id for one in seen for field in one.fields}


@pytest.mark.parametrize("flag_id", questions.BACK_FLAGS)
def test_an_old_and_steady_sign_of_the_saddle_still_waits_for_a_doctor(flag_id):
    found = screened(SPINE | {flag_id: "old"})
    assert flag_id in rule_ids(found)
    assert found.outcome is REFER


@pytest.mark.parametrize("gate_id", BOOK.pregnancy_gates)
def test_the_pregnancy_entry_speaks_and_holds_back(gate_id):
    gate = BOOK.pregnancy_gates[gate_id]
    found = screened(pregnant(230, LISTED[gate.level], ASKED_AS.get(gate_id, gate_id)))
    assert gate_id in rule_ids(found)
    assert found.outcome is (POSTPONE if gate.level == "stop_sign" else REFER)


@pytest.mark.parametrize("sign", BOOK.symptoms)
@pytest.mark.parametrize("word", ["yes", "not_sure"])
def test_each_of_the_nine_signs_asks_for_clearance(sign, word):
    more: Told = {"S1.rest": "no", "S1.new": "no"} if sign == "S1" else {}
    found = screened({sign: word} | more)
    assert found.outcome is REFER
    assert "leaf 3" in rule_ids(found)


@pytest.mark.parametrize("leaf", BOOK.leaves, ids=lambda leaf: f"leaf {leaf.leaf}")
def test_each_leaf_is_reached(leaf):
    told: Told = {"H18.intensity": leaf.intensity}
    if leaf.regularly_active:
        told |= {"H01.days": "3", "H01.minutes": "30", "H01.effort": "moderate", "H01.months": "3"}
    if leaf.known_disease:
        told |= {"H03": "yes", "H03.conditions": ["kidney"]}
    if leaf.symptoms:
        told |= {"S5": "yes"}
    found = screened(told)
    assert rule_ids(found) == {f"leaf {leaf.leaf}"}
    assert found.outcome is Outcome(leaf.outcome)


@pytest.mark.parametrize(("value", "rule"), [("150/100", "G01"), ("150/95", "G05"), ("171/80", "G04")])
def test_a_pressure_that_is_told_meets_the_lines(value, rule):
    assert rule in rule_ids(screened({"H05": "unknown", "H05.value": value}))


@pytest.mark.parametrize(("now", "rule", "expected"), [("no", "G06", POSTPONE), ("yes", "G07", EMERGENCY)])
def test_a_very_high_pressure_asks_one_more_question(now, rule, expected):
    found = screened({"H05": "unknown", "H05.value": "180/95", "H05.now": now})
    assert (rule in rule_ids(found), found.outcome) == (True, expected)


@pytest.mark.parametrize("word", ["fever", "ill", "irregular_pulse", "wheezing"])
def test_what_is_so_today_holds_back_todays_lesson(word):
    assert screened({"H17": [word]}).outcome is POSTPONE


@pytest.mark.parametrize("term", questions.TERMS)
def test_what_somebody_was_told_to_leave_out_is_avoided(term):
    _, demands = questions.TERMS[term]
    found = screened({"H16": ["leave_out"], "H16.terms": [term]})
    avoided = {limit.demand for limit in found.limits if limit.level is Level.AVOID}
    assert set(demands) <= avoided <= {*demands, "rot_flex"}


def test_exercise_only_at_a_professionals_side_waits_for_their_word():
    found = screened({"H16": ["supervised"]})
    assert (found.outcome, "H16" in rule_ids(found)) == (REFER, True)
