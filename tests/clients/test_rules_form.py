"""The health form: one screen at a time, from nothing to signed, whatever is answered or posted."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clients.rules import Outcome, Rulebook, Side, form, screen
from clients.rules.clearance import ASKED_IN_THE_WHOLE_WINDOW, DECIDED_BY_ANOTHER_GATE
from clients.rules.facts import Disease
from clients.rules.form import follow_ups, questions
from clients.rules.form.fields import Answers, Field, FieldKind
from clients.rules.form.screens import due_screens
from tests.reference import tables

ON = date(2026, 3, 2)
BOOK = Rulebook.from_tables(tables())
MOST_SCREENS = 120
CALM_WORDS = {"none", "usual", "light_moderate", "vaginal", "both", "light", "no"}


def calm(field: Field) -> object:
    """The answer of someone with nothing to tell."""
    if field.kind in (FieldKind.YES_NO, FieldKind.YES_NO_UNSURE):
        return "no"
    if field.kind is FieldKind.NUMBER:
        return 0
    if field.kind is FieldKind.DATE:
        return ON.isoformat()
    words = [choice.value for choice in field.choices]
    word = next((one for one in words if one in CALM_WORDS), words[-1])
    return [word] if field.kind is FieldKind.MANY else word


def filled(**told: object) -> dict[str, object]:
    """A whole form: what is told, by field id with __ for a point, and the calm answer to all else."""
    answers: dict[str, object] = {name.replace("__", "."): value for name, value in told.items()}
    for _ in range(MOST_SCREENS):
        lacking = [
            field
            for one in due_screens(BOOK, answers, on=ON)
            for field in one.fields
            if field.required and field.id not in answers
        ]
        if not lacking:
            return answers
        answers |= {field.id: calm(field) for field in lacking}
    raise AssertionError("the form does not end")


def held(answers: Answers) -> set[str]:
    return {one.condition_id for one in form.facts(BOOK, answers, on=ON).conditions}


def outcome(answers: Answers) -> Outcome:
    return screen(form.facts(BOOK, answers, on=ON), BOOK, on=ON).outcome


def ago(days: int) -> str:
    return (ON - timedelta(days=days)).isoformat()


@st.composite
def posts(draw, field: Field):
    """What a person, or something that is not one, sends for a field; good more often than not."""
    if field.kind is FieldKind.MANY:
        return [draw(st.sampled_from(field.choices)).value]
    if field.choices:
        return [draw(st.sampled_from(field.choices)).value]
    if field.kind is FieldKind.DATE:
        days = draw(st.integers(max(field.low or 0, -600), field.high or 0))
        return [(ON + timedelta(days=days)).isoformat()]
    if field.kind is FieldKind.NUMBER:
        return [str(draw(st.integers(field.low or 0, field.high or 9)))] if field.required else [""]
    return [draw(st.sampled_from(["", "135/85", "190/125"]))] if field.kind is FieldKind.PRESSURE else ["words"]


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_the_form_always_ends_and_then_nothing_is_unanswered(data):
    answers: dict[str, object] = {}
    for _ in range(MOST_SCREENS):
        one = form.next_screen(BOOK, answers, on=ON)
        if one is None or one.kind == "emergency":
            break
        posted = {field.id: data.draw(posts(field)) for field in one.fields}
        values, errors = form.clean(one, posted, on=ON)
        assert errors == {}
        answers |= values
    else:
        raise AssertionError("the form does not end")
    if one is None:
        assert form.unanswered(BOOK, answers, ON) == []
    else:
        assert outcome(answers) is Outcome.EMERGENCY


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_a_form_with_a_hole_never_ends_in_clear(data):
    answers = filled()
    field_id = data.draw(st.sampled_from(sorted(answers)))
    del answers[field_id]
    assert outcome(answers) is Outcome.INCOMPLETE
    assert form.unanswered(BOOK, answers, ON)


@pytest.mark.parametrize("condition_id", sorted(BOOK.conditions))
def test_every_condition_can_be_reached_through_the_form(condition_id):
    row = BOOK.conditions[condition_id]
    told: dict[str, object] = {}
    firsts = [one.id for one in BOOK.conditions.values() if one.next_condition_id == condition_id]
    offered = [*firsts, condition_id]
    for question_id, ids in questions.REVEALS.items():
        found = next((one for one in offered if one in ids), None)
        if found:
            told = {
                question_id: "yes",
                f"{question_id}.conditions": [found],
                f"{found}.since": ago(row.window_days_from or 0),
            }
            break
    if row.window_basis == "gestation":
        due = ON + timedelta(days=280 - (row.window_days_from or 0))
        told = {"H13": ["pregnant"], "H13.due": due.isoformat()}
        found_in = screen(form.facts(BOOK, filled(**told), on=ON), BOOK, on=ON).limits
        assert {one for limit in found_in for one in limit.because} == {condition_id}
        return
    by_pressure = {"C14": "yes", "C15": "no"}
    if condition_id in by_pressure:
        told = {"H05": "high", "H05.treated": "yes", "H05.controlled": by_pressure[condition_id]}
    if condition_id in ("C22", "C22b"):
        told = {"H13": ["birth"], "H13.birth": ago(row.window_days_from or 0), "H13.way": "vaginal"}
    assert condition_id in held(filled(**told))


def test_the_form_fits_the_rule_book():
    assert follow_ups.unreachable(BOOK) == frozenset()
    assert follow_ups.unasked_clearances(BOOK, DECIDED_BY_ANOTHER_GATE | ASKED_IN_THE_WHOLE_WINDOW) == frozenset()
    assert {demand for _, demands in questions.TERMS.values() for demand in demands} == set(BOOK.demands)
    flags = (
        questions.EMERGENCY_FLAGS
        + questions.BACK_FLAGS
        + questions.SPINE_FLAGS
        + questions.BACK_PAIN_FLAGS
        + questions.NECK_FLAGS
        + questions.PAIN_FLAGS
        + questions.ALWAYS_FLAGS
    )
    assert sorted(flags) == sorted(BOOK.red_flags)


def test_the_questions_come_in_the_order_of_the_table_each_with_why_it_is_asked():
    due = form.screens(BOOK, {}, on=ON)
    asked = [one.id for one in due if one.id in BOOK.questions]
    assert asked == list(BOOK.questions)
    assert all(one.why for one in due)
    signs = next(one for one in due if one.id == "H04")
    assert [field.id for field in signs.fields if field.required] == list(BOOK.symptoms)


def test_nobody_with_nothing_to_tell_is_asked_follow_ups():
    assert {one.id for one in form.screens(BOOK, filled(), on=ON)} == {*BOOK.questions, "safety", "H12.signs"}
    assert outcome(filled()) is Outcome.CLEAR


@pytest.mark.parametrize(
    "told",
    [
        {"F20": "yes"},
        {"F22": "yes"},
        {"S1": "yes", "S1.rest": "yes"},
        {"H05": "unknown", "H05.value": {"systolic": 185, "diastolic": 100}, "H05.now": "yes"},
        {"H07": "yes", "H07.where": ["lower_back"], "H07.conditions": ["C61"], "F02": "new"},
        {"H13": ["pregnant"], "H05.value": {"systolic": 160, "diastolic": 100}},
    ],
)
def test_an_emergency_stops_the_form_with_the_number_and_nothing_else(told):
    found = form.screens(BOOK, told, on=ON)[-1]
    assert (found.kind, found.fields, found.why) == ("emergency", (), "")
    assert "local emergency number" in found.question
    assert form.next_screen(BOOK, told, on=ON, after="H01") == found


def test_an_old_steady_sign_or_one_without_back_pain_does_not_stop_the_form_but_waits_for_a_doctor():
    told = {"H07": "yes", "H07.conditions": ["other"]}
    old = filled(**told, **{"H07.where": ["lower_back"], "F01": "old"})
    neck_only = filled(**told, **{"H07.where": ["neck"], "F01": "new"})
    assert outcome(old) is outcome(neck_only) is Outcome.REFER


def test_not_sure_is_never_a_no():
    assert outcome(filled(S3="not_sure")) is Outcome.REFER
    told = {"H14": "yes", "H14.conditions": ["C18"], "C18.clearance": "not_sure"}
    assert outcome(filled(**told)) is Outcome.REFER


@pytest.mark.parametrize(("days", "expected"), [(83, "C03"), (84, "C04")])
def test_the_day_of_a_fracture_chooses_the_row(days, expected):
    told = {"H09": "yes", "H09.conditions": ["C03"], "C03.since": ago(days)}
    assert held(filled(**told)) == {expected}


def test_a_fracture_that_still_hurts_stays_recent():
    told = {"H09": "yes", "H09.conditions": ["C03"], "C03.since": ago(900), "C03.still": "yes"}
    facts = form.facts(BOOK, filled(**told), on=ON)
    assert [one.condition_id for one in facts.conditions] == ["C03"]
    assert screen(facts, BOOK, on=ON).proposals == ()


def test_without_the_day_the_recent_row_holds_and_the_day_is_asked_for():
    told = {"H09": "yes", "H09.conditions": ["C03"]}
    assert held(told) == {"C03"}
    assert ("C03", "When did it break?") in form.unanswered(BOOK, told, ON)


def test_a_hip_replaced_from_an_unknown_side_counts_as_both_ways():
    told = {"H10": "yes", "H10.conditions": ["hip_unsure"], "C26.since": ago(20), "C28.since": ago(20)}
    assert held(filled(**told)) == {"C26", "C28"}


def test_the_side_is_kept_and_not_sure_means_both():
    told = {"H08": "yes", "H08.conditions": ["C38", "C39"], "C38.side": "left", "C39.side": "not_sure"}
    sides = {one.condition_id: one.side for one in form.facts(BOOK, filled(**told), on=ON).conditions}
    assert sides == {"C38": Side.LEFT, "C39": Side.BOTH}


def test_two_operations_on_one_belly_count_once_from_the_later_day():
    told = {"H10": "yes", "H10.conditions": ["C23"], "C23.since": ago(80)}
    birth = {"H13": ["birth"], "H13.birth": ago(20), "H13.way": "caesarean"}
    found = form.facts(BOOK, filled(**told, **birth), on=ON).conditions
    assert [(one.condition_id, one.since) for one in found] == [("C23", ON - timedelta(days=20))]


def test_an_answer_taken_back_takes_what_followed_with_it():
    told = {"H08": "no", "H08.conditions": ["C38"], "C38.side": "left", "C38.clearance": "yes"}
    assert held(filled(**told)) == set()


def test_a_week_counts_as_active_only_when_each_of_its_four_parts_does():
    week = {"H01.days": 3, "H01.minutes": 30, "H01.months": 3, "H01.effort": "moderate"}
    assert form.facts(BOOK, week, on=ON).regularly_active is True
    for part, less in {"H01.days": 2, "H01.minutes": 29, "H01.months": 2, "H01.effort": "light"}.items():
        assert form.facts(BOOK, week | {part: less}, on=ON).regularly_active is False
    assert form.facts(BOOK, {**week, "H01.months": None}, on=ON).regularly_active is None


def test_a_yes_to_sugar_and_kidneys_is_a_known_disease_whatever_is_chosen_below():
    for told, expected in [("kidney", Disease.KIDNEY), ("C56", Disease.DIABETES), ("sugar_other", Disease.DIABETES)]:
        answers = {"H02": "no", "H03": "yes", "H03.conditions": [told]}
        assert form.facts(BOOK, answers, on=ON).diseases == {expected}


def test_a_low_placenta_is_asked_once_and_counts_from_the_stricter_week():
    def told(gestation: int) -> dict[str, object]:
        due = ON + timedelta(days=280 - gestation)
        return filled(**{"H13": ["pregnant"], "H13.due": due.isoformat(), "H13.gates": ["P13"]})

    gates = next(one for one in form.screens(BOOK, told(150), on=ON) if one.id == "H13.gates").fields[0]
    assert {"P04", "P13"} & {choice.value for choice in gates.choices} == {"P13"}
    assert (outcome(told(181)), outcome(told(182))) == (Outcome.CLEAR, Outcome.REFER)


def test_only_someone_old_enough_is_asked_about_new_spine_pain_in_old_age():
    told = {"H07": "yes", "H07.where": ["lower_back"]}

    def ids(born_on: date | None) -> set[str]:
        return {field.id for one in form.screens(BOOK, told, on=ON, born_on=born_on) for field in one.fields}

    assert "F10" in ids(None) & ids(date(1961, 3, 2))
    assert "F10" not in ids(date(1961, 3, 3))


def test_something_to_leave_out_becomes_avoided_movements():
    told = {"H16": ["leave_out"], "H16.terms": ["jump", "turn"]}
    found = screen(form.facts(BOOK, filled(**told), on=ON), BOOK, on=ON)
    assert {limit.demand for limit in found.limits} == {"impact", "rotation", "rot_flex"}
    assert found.outcome is Outcome.CLEAR
    assert outcome(filled(**{"H16": ["leave_out"], "H16.terms": ["other"]})) is Outcome.INCOMPLETE


def test_the_answers_are_read_back_in_words_with_the_screen_to_change_them_on():
    told = {
        "H08": "yes",
        "H08.conditions": ["C38"],
        "C38.side": "left",
        "H05.value": {"systolic": 120, "diastolic": 80},
    }
    rows = form.summary(BOOK, filled(**told), on=ON)
    assert ("Which of these fit?", "Wrist pain or carpal tunnel", "H08.more") in rows
    assert ("Which side?", "Left", "C38") in rows
    assert ("Your last value, if you know it", "120/80 mmHg", "H05") in rows
    assert ("Which side?", "not answered", "C38") in form.summary(BOOK, {**told, "C38.side": None}, on=ON)


ALL_SCREENS = due_screens(
    BOOK,
    {
        "S1": "yes",
        "H05": "high",
        "H05.value": {"systolic": 190, "diastolic": 90},
        "H07.where": ["neck"],
        "H13": ["pregnant", "birth"],
        "H16": ["leave_out"],
        **dict.fromkeys(questions.REVEALS, "yes"),
        **{f"{one}.conditions": list(ids) for one, ids in questions.REVEALS.items()},
    },
    on=ON,
)


@given(st.data())
@settings(max_examples=300, deadline=None)
def test_clean_answers_any_posted_text_with_a_value_or_a_message(data):
    one = data.draw(st.sampled_from(ALL_SCREENS))
    strange = st.one_of(st.text(), st.sampled_from(["2024-02-30", "9" * 5000, "²", "٣", "\x00", "120/80", "-1"]))
    posted = {field.id: data.draw(st.lists(strange, max_size=3)) for field in one.fields}
    values, errors = form.clean(one, posted, on=ON)
    assert set(values) | set(errors) == {field.id for field in one.fields}
    assert all(errors.values())


@pytest.mark.parametrize(
    ("field_id", "sent", "word"),
    [
        ("C03.since", ["2024-02-30"], "no such day"),
        ("C03.since", ["next May"], "day, month and year"),
        ("C03.since", [(ON + timedelta(days=1)).isoformat()], "still to come"),
        ("C03.since", ["1850-01-01"], "longer ago"),
        ("H13.due", [(ON + timedelta(days=400)).isoformat()], "cannot be on its way"),
        ("H01.minutes", ["601"], "from 0 to 600"),
        ("H01.days", ["many"], "from 0 to 7"),
        ("H05.value", ["80/120"], "higher one comes first"),
        ("H05.value", ["120"], "both numbers"),
        ("H10.words", ["a" * 2001], "2,000"),
        ("H17", ["none", "fever"], "do not go together"),
        ("H09", ["perhaps"], "one of the answers"),
        ("H09", [], "Please answer"),
    ],
)
def test_what_cannot_be_right_is_refused_kindly(field_id, sent, word):
    one = next(one for one in ALL_SCREENS if field_id in {field.id for field in one.fields})
    values, errors = form.clean(one, {field_id: sent}, on=ON)
    assert word in errors[field_id]
    assert field_id not in values


def test_good_words_are_kept_as_they_are():
    one = next(one for one in ALL_SCREENS if one.id == "H10.more")
    values, _ = form.clean(one, {"H10.words": [" שלום 🌿\x00 "], "H10.conditions": ["C54", "C12"]}, on=ON)
    assert values["H10.words"] == "שלום 🌿"
    assert values["H10.conditions"] == ["C12", "C54"]
    pressure = next(one for one in ALL_SCREENS if one.id == "H05")
    for sent in (["120", "80"], ["120/80"]):
        assert form.clean(pressure, {"H05.value": sent}, on=ON)[0]["H05.value"] == {"systolic": 120, "diastolic": 80}
