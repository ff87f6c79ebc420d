"""The re-check of somebody who comes back, what differs between two versions, and the whole form on one paper."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules import Rulebook, form
from clients.rules.form.fields import FieldKind
from tests.clients.test_rules_form import filled
from tests.reference import tables

ON = date(2026, 3, 2)
TOLD_ON = ON - timedelta(days=60)
BOOK = Rulebook.from_tables(tables())
STANDS = form.Recheckable(holds_until=ON + timedelta(days=200), whole_on=TOLD_ON, is_asked_in_full=False)


def walk(asked=()):
    return form.Walk(BOOK, ON, None, TOLD_ON, frozenset(asked))


def carried(**told):
    return form.without(filled(**told), form.ANEW_IN_QUICK)


def test_a_re_check_has_two_screens_and_asks_the_emergencies_first():
    first, second = walk().screens(carried())
    assert {field.id for field in first.fields} == {"F18", "F19", "F20", "F21", "F22"}
    assert [field.id for field in second.fields] == [form.CHANGED, "H17", "H17.words"]
    # screening.md section 6: new diagnosis, operation, pregnancy or birth, fall, faint, new symptom, new medicine
    offered = {choice.value for choice in second.fields[0].choices}
    assert offered == {"none", "diagnosis", "operation", "pregnancy_or_birth", "fall", "faint", "symptom", "medicine"}
    assert "1 January 2026" in second.fields[0].label


def test_what_the_earlier_answers_cannot_say_is_asked_with_it():
    answers = carried()
    del answers["H09"]
    assert [one.id for one in walk().screens(answers)] == ["safety", "recheck", "H09"]
    assert [one.id for one in walk(asked={"H09"}).screens(answers | {"H09": "no"})][-1] == "H09", (
        "it stays in its place"
    )


def test_a_pregnant_client_is_asked_for_the_stop_signs_each_time():
    due = (ON + timedelta(days=140)).isoformat()
    answers = carried(H13=["pregnant"], H13__due=due)
    assert [one.id for one in walk().screens(answers)] == ["safety", "recheck", "H13.now"]


def test_an_emergency_stops_a_re_check_too():
    assert walk().screens(carried() | {"F20": "yes"})[-1].kind == "emergency"


def test_a_change_leads_into_the_whole_form_with_the_earlier_answers_in_it():
    told = carried(H09="yes", H09__conditions=["C01"]) | {
        "F20": "no", "H17": ["bad_night"], form.CHANGED: ["operation"],
    }  # fmt: skip
    assert form.has_changed(told)
    kept = form.whole_from_recheck(told)
    assert (kept["H09"], kept["H17"], kept["F20"]) == ("yes", ["bad_night"], "no")
    # How it is now is asked anew: the nine signs and the other flags.
    assert not {"S1", "F05"} & set(kept)


@pytest.mark.parametrize("told", [["none"], []])
def test_nothing_told_is_no_change(told):
    assert not form.has_changed({form.CHANGED: told})


@pytest.mark.parametrize(
    ("facts", "asks", "word"),
    [
        (STANDS, "", ""),
        (STANDS, "quick", ""),
        (STANDS, "full", "too little"),
        (form.Recheckable(STANDS.holds_until, TOLD_ON, True), "", "too little"),
        (form.Recheckable(ON, TOLD_ON, False), "", ""),
        (form.Recheckable(ON - timedelta(days=1), TOLD_ON, False), "", "run out"),
        (form.Recheckable(None, None, False), "", "No signed form"),
    ],
)
def test_a_re_check_will_do_only_while_a_whole_form_stands(facts, asks, word):
    says = form.why_whole(facts, on=ON, asks_again=asks)
    assert (word in says) if word else says == ""


@given(st.data())
def test_a_version_differs_from_itself_in_nothing_and_both_ways_in_the_same_answers(data):
    one, other = (form.read_back(BOOK, filled(**data.draw(st.fixed_dictionaries(TELLS))), on=ON) for _ in range(2))
    assert form.differences(one, one) == ()
    there, back = form.differences(one, other), form.differences(other, one)
    assert {(d.question, d.before, d.after) for d in there} == {(d.question, d.after, d.before) for d in back}
    assert all(d.before != d.after for d in there)


TELLS = {
    "H09": st.sampled_from(["yes", "no"]),
    "H18": st.sampled_from(["", "to carry water", "to dance"]),
    "H05__value": st.sampled_from([None, {"systolic": 120, "diastolic": 80}]),
}


def test_a_difference_tells_both_in_the_words_of_the_form():
    before, after = filled(H09="no"), filled(H09="yes", H09__conditions=["C01"], H09__words="told in May")
    found = form.differences(form.read_back(BOOK, before, on=ON), form.read_back(BOOK, after, on=ON))
    assert [(one.before, one.after) for one in found][:2] == [
        ("No", "Yes"),
        ("not asked", "Osteoporosis, diagnosed or treated, no known vertebral fracture"),
    ]
    assert found[2].after == "told in May" and found[0].title == "Bones"


def test_the_paper_holds_every_field_that_any_way_through_the_form_can_ask():
    whole = {field.id for one in form.every_screen(BOOK, on=ON) for field in one.fields}
    ways = [
        {}, {"H05": "high", "H05.value": {"systolic": 200, "diastolic": 130}}, {"H13": ["pregnant", "birth"]},
        {"H16": ["leave_out"]}, *({one: "yes", f"{one}.conditions": [choice]} for one, choice in told_anywhere()),
    ]  # fmt: skip
    asked = {field.id for way in ways for one in form.screens(BOOK, way, on=ON) for field in one.fields}
    assert asked <= whole


def told_anywhere():
    for one in form.every_screen(BOOK, on=ON):
        for field in one.fields:
            if field.id.endswith(".conditions"):
                yield from ((field.id.removesuffix(".conditions"), choice.value) for choice in field.choices)


def test_every_subject_asks_in_own_words_and_those_with_a_story_since_when_and_by_whom_treated():
    fields = {field.id: field for one in form.every_screen(BOOK, on=ON) for field in one.fields}
    own_words = {name.partition(".")[0] for name, field in fields.items() if field.kind is FieldKind.TEXT}
    assert set(BOOK.questions) <= own_words
    for question_id in ("H02", "H03", "H05", "H06", "H07", "H08", "H09", "H10", "H11", "H12", "H14"):
        assert f"{question_id}.treated_by" in fields
        # Operations carry their own day each, the back a date.
        assert question_id == "H10" or {f"{question_id}.when", f"{question_id}.since"} & set(fields)
    assert {"H13.treated_by", "H13.birth_by", "H16.who", "H15.words"} <= set(fields)


def test_every_sided_condition_asks_for_its_side():
    fields = {field.id for one in form.every_screen(BOOK, on=ON) for field in one.fields}
    offered = {choice for _, choice in told_anywhere()}
    sided = {row.id for row in BOOK.conditions.values() if row.is_sided} & offered
    assert sided and all(f"{one}.side" in fields for one in sided)
