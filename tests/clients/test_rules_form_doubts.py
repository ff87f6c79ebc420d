"""What cannot be, or cannot both be, comes back as a plain question; nothing is put right by itself."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.rules import Rulebook, form
from clients.rules.form.expecting import days_along, due_on
from tests.reference import tables

ON = date(2026, 3, 2)
BORN = date(1984, 5, 17)
BOOK = Rulebook.from_tables(tables())
SCREENS = {one.id: one for one in form.every_screen(BOOK, on=ON)}
EXPECTING = {"H13": ["pregnant"], "H13.due": due_on(weeks=12, on=ON).isoformat()}
BIRTH = {"H13": ["birth"], "H13.birth": "2026-01-10", "H13.way": "caesarean"}


def asked_back(answers, *, born_on=None):
    return {one.field_id: one.says for one in form.doubts(BOOK, answers, on=ON, born_on=born_on)}


def cleaned(screen_id, born_on=None, **posted):
    sent = {f"{screen_id.partition('.')[0]}.{name}": [words] for name, words in posted.items()}
    return form.clean(SCREENS[screen_id], sent, on=ON, born_on=born_on)


@pytest.mark.parametrize(
    ("days", "minutes", "effort", "field"),
    [
        (0, 45, "light", "H01.days"),
        (3, 0, "moderate", "H01.minutes"),
        (1, 30, "none", "H01.effort"),
        (0, 0, "none", None),
        (0, 0, "light", None),
        (3, 30, "hard", None),
    ],
)
def test_a_week_that_does_not_add_up_is_asked_back(days, minutes, effort, field):
    week = {"H01.days": days, "H01.minutes": minutes, "H01.effort": effort}
    assert set(asked_back(week)) == ({field} if field else set())
    here = form.on_screen(SCREENS["H01"], BOOK, week, on=ON)
    assert set(here) == ({field} if field else set())


def test_no_operation_beside_a_caesarean_is_asked_back_with_both_places_named():
    doubt = form.doubts(BOOK, {"H10": "no"} | BIRTH, on=ON)[0]
    assert (doubt.field_id, doubt.screen_id, doubt.other_screen_id) == ("H10", "H10", "H13.birth")
    assert "caesarean" in doubt.says and doubt.says.endswith("?")
    assert not form.on_screen(SCREENS["H10"], BOOK, {"H10": "no"} | BIRTH, on=ON), "both screens are in question"


@pytest.mark.parametrize("answer", [{"H10": "yes"}, {"H10": "no", "H13.way": "vaginal"}, {}])
def test_where_nothing_contradicts_nothing_is_asked(answer):
    assert not asked_back(BIRTH | answer)


@pytest.mark.parametrize("replaced", ["C26", "C28", "C30", "hip_unsure"])
def test_no_operation_beside_a_new_joint_is_asked_back(replaced):
    told = {"H08": "yes", "H08.conditions": [replaced], "H10": "no"}
    assert "replacement" in asked_back(told)["H10"]
    assert not asked_back(told | {"H08": "no"}), "an answer that is not asked for any more contradicts nothing"


def test_pregnant_now_and_a_birth_last_week_cannot_both_be():
    both = {"H13": ["pregnant", "birth"], "H13.birth": (ON - timedelta(days=7)).isoformat(), "H13.way": "vaginal"}
    assert "Both cannot be" in asked_back(both | {"H13.due": due_on(weeks=12, on=ON).isoformat()})["H13.birth"]
    long_ago = both | {"H13.birth": (ON - timedelta(days=350)).isoformat()}
    assert not asked_back(long_ago | {"H13.due": due_on(weeks=12, on=ON).isoformat()})


def test_a_due_date_long_past_is_asked_back():
    past = {"H13": ["pregnant"], "H13.due": (ON - timedelta(days=31)).isoformat()}
    assert "Was it born" in asked_back(past)["H13"]
    assert not asked_back(past | {"H13.due": (ON - timedelta(days=30)).isoformat()})


def test_weeks_beside_a_due_date_that_says_otherwise_are_asked_back():
    assert "12 weeks along" in asked_back(EXPECTING | {"H13.weeks": 20})["H13.weeks"]
    assert not asked_back(EXPECTING | {"H13.weeks": 12})


@pytest.mark.parametrize(
    ("screen", "sent", "field", "word"),
    [
        ("H13.more", {"weeks": "60"}, "H13.weeks", "does not last 60 weeks"),
        ("H13.more", {"weeks": "0"}, "H13.weeks", "does not last 0 weeks"),
        ("H13.more", {"due": "2027-06-01"}, "H13.due", "1 June 2027 cannot be"),
        ("H13.more", {"due": "2025-06-01"}, "H13.due", "1 June 2025 cannot be"),
        ("H05", {"value": "400/20"}, "H05.value", "400/20 cannot be a blood pressure"),
        ("H05", {"value": "80/120"}, "H05.value", "80/120 cannot be"),
        ("H13.birth", {"birth": "2026-03-03"}, "H13.birth", "still to come"),
        ("H07.more", {"since": "1984-05-16"}, "H07.since", "before you were born, on 17 May 1984"),
    ],
)
def test_what_cannot_be_is_a_question_beside_its_field_and_is_not_kept(screen, sent, field, word):
    kept, errors = cleaned(screen, born_on=BORN, **sent)
    assert word in errors[field] and field not in kept


def test_an_operation_before_the_birthday_is_asked_back_also_when_the_birthday_came_later():
    told = {"H10": "yes", "H10.conditions": ["C12"], "C12.since": "1980-01-01"}
    assert not asked_back(told)
    assert "17 May 1984" in asked_back(told, born_on=BORN)["C12.since"]


@given(st.integers(1, 42))
def test_weeks_are_kept_as_the_due_date_they_mean_on_that_day(weeks):
    kept, errors = cleaned("H13.more", weeks=str(weeks))
    assert not errors and kept["H13.weeks"] is None
    assert days_along(date.fromisoformat(kept["H13.due"]), on=ON) == weeks * 7
    assert not asked_back({"H13": ["pregnant"]} | kept)


def test_neither_weeks_nor_date_is_an_open_question():
    assert set(cleaned("H13.more")[1]) == {"H13.due"}


# acog_804, from memory: the second trimester from 14 weeks 0 days, the third from 28 weeks 0 days
@pytest.mark.parametrize(
    ("weeks", "stages", "weeks_then"),
    [(12, [14], 24), (14, [], 26), (16, [28], 28), (20, [28], 32), (30, [], None)],
)
def test_twelve_weeks_later_is_told_with_the_days_on_which_we_look_again(weeks, stages, weeks_then):
    answers = {"H13": ["pregnant"], "H13.due": due_on(weeks=weeks, on=ON).isoformat()}
    found = form.expecting(BOOK, answers, on=ON)
    assert (found.weeks, found.days, found.weeks_then) == (weeks, 0, weeks_then)
    assert [stage.weeks for stage in found.stages] == stages
    assert all(stage.day == ON + timedelta(weeks=stage.weeks - weeks) for stage in found.stages)
    assert all(stage.leaves_out or stage.changes for stage in found.stages)


def test_nobody_else_is_told_of_weeks():
    assert form.expecting(BOOK, {"H13": ["birth"], "H13.due": "2026-08-01"}, on=ON) is None
    assert form.expecting(BOOK, {"H13": ["pregnant"]}, on=ON) is None


@given(st.data())
def test_every_doubt_names_a_field_that_is_asked_and_ends_in_a_question(data):
    answers = {
        "H01.days": data.draw(st.integers(0, 7)),
        "H01.minutes": data.draw(st.integers(0, 600)),
        "H01.effort": data.draw(st.sampled_from(["light", "hard", "none"])),
        "H08": data.draw(st.sampled_from(["yes", "no"])),
        "H08.conditions": [data.draw(st.sampled_from(["C26", "C30", "C41"]))],
        "H10": data.draw(st.sampled_from(["yes", "no"])),
        "H13": data.draw(st.sampled_from([["none"], ["pregnant"], ["birth"], ["pregnant", "birth"]])),
        "H13.due": (ON + timedelta(days=data.draw(st.integers(-90, 294)))).isoformat(),
        "H13.birth": (ON - timedelta(days=data.draw(st.integers(0, 700)))).isoformat(),
        "H13.way": data.draw(st.sampled_from(["vaginal", "caesarean"])),
    }
    due = {one.id: {field.id for field in one.fields} for one in form.screens(BOOK, answers, on=ON)}
    for one in form.doubts(BOOK, answers, on=ON):
        assert one.field_id in due[one.screen_id] and "?" in one.says
        assert not one.other_screen_id or one.other_screen_id in due
