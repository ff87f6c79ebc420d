"""The repertoire's pages: looked through, read, changed by the owner, proposed by a teacher, decided and taken back."""

import re
from typing import Any

import pytest
from django.urls import reverse

from programming import models
from programming.actions import entries
from programming.rules.entries import About
from tests.conftest import logged_in
from tests.make_programming import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


def address(name: str, *args: object) -> str:
    return reverse(f"programming:{name}", args=args)


def page(client, name: str, *args: object, **data: object) -> str:
    answer = client.get(address(name, *args), data)
    assert answer.status_code == 200, answer.status_code
    return answer.content.decode()


def filled(html: str) -> dict[str, Any]:
    """What a form on a page would send if nothing were touched."""
    form = html.split("<form")[-1] if html.count("<form") == 1 else max(html.split("<form"), key=len)
    sent: dict[str, Any] = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name = re.search(r'name="(\w+)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if not name or name[1] == "csrfmiddlewaretoken":
            continue
        if "checkbox" in tag:
            sent.setdefault(name[1], [])
            if "checked" in tag:
                sent[name[1]].append(value[1] if value else "on")
        else:
            sent[name[1]] = value[1] if value else ""
    for name, options in re.findall(r'<select name="(\w+)"[^>]*>(.*?)</select>', form, flags=re.S):
        chosen = re.search(r'<option value="([^"]*)" selected', options)
        sent[name] = chosen[1] if chosen else ""
    for name, text in re.findall(r'<textarea name="(\w+)"[^>]*>(.*?)</textarea>', form, flags=re.S):
        sent[name] = text.strip()
    return sent


def send(client, name: str, *args: object, query: str = "", **other: object):
    """The form of a page as it stands there, with some fields filled in anew."""
    html = client.get(address(name, *args) + query).content.decode()
    return client.post(address(name, *args) + query, filled(html) | other)


def row(key: str = "R-FRO") -> dict[str, str]:
    return models.Exercise.objects.get(pk=key).row


# --- looking through -------------------------------------------------------------------------------------------------


def test_the_repertoire_is_found_by_what_it_does_not_ask_for(teacher, lesson):
    html = page(teacher, "repertoire", kind="mat", demand="wrist_wb", asking="never", level="to2")
    assert "Spine stretch" in html and "Front support" not in html and "Frog in loops" not in html


@pytest.mark.parametrize(
    "wrong", [{"kind": "sofa"}, {"level": "9"}, {"demand": "🦩"}, {"q": "x" * 900}, {"asking": "\x00"}]
)
def test_a_choice_that_is_none_counts_as_any(teacher, lesson, wrong):
    assert "Frog in loops" in page(teacher, "repertoire", **wrong)


def test_nothing_found_is_kind_and_leads_back_to_everything(teacher, lesson):
    html = page(teacher, "repertoire", q="somersault in the lake")
    assert "No exercise like that" in html and "Show everything" in html


def test_a_rows_page_shows_ladder_faults_set_ups_stop_signs_and_both_ways(teacher, lesson):
    html = page(teacher, "exercise", "R-FW1")
    for word in (
        "Set-ups by body", "takes out Flat on the back", "Send each knee over", "Chest pain or pressure",
        "Nothing: it may come first", "Hundred", "<svg class=\"graph\"", "One fewer: easier", "Planned in",
    ):  # fmt: skip
        assert word in html, word


def test_every_rows_page_opens(teacher, lesson):
    for key in models.Exercise.objects.values_list("pk", flat=True):
        page(teacher, "exercise", key)


# --- changing --------------------------------------------------------------------------------------------------------


def test_a_form_sent_untouched_changes_nothing_of_any_row(as_owner, lesson):
    """Whatever stands in a row comes back from the form as it was: no value is lost by opening and keeping it."""
    keys = models.Exercise.objects.order_by("pk").values_list("pk", flat=True)[::9]
    for key in [*keys, "R-SB6"]:
        assert send(as_owner, "exercise-change", key).status_code == 302, key
    for code in models.LadderStep.objects.order_by("pk").values_list("pk", flat=True)[::20]:
        assert send(as_owner, "step", code).status_code == 302, code
    assert not models.ExerciseVersion.objects.filter(version=2).values_list("exercise_id", "row")
    assert not models.LadderStepVersion.objects.filter(version=2).values_list("step_id", "row")


def test_the_owner_changes_a_row_at_once_and_goes_back(as_owner, lesson):
    before = row()
    assert send(as_owner, "exercise-change", "R-FRO", reps_low="3", demands_removable=["grip"]).status_code == 302
    assert row()["reps_low"] == "3" and "grip" in row()["demands_removable"].split(";")
    assert "our own" in page(as_owner, "repertoire", q="frog")
    assert "Go back to it" in page(as_owner, "exercise-versions", "R-FRO")
    assert send(as_owner, "exercise-change", "R-FRO", query="?version=1").status_code == 302
    assert row() == before
    assert "our own" not in page(as_owner, "repertoire", q="frog")


def test_a_broken_row_is_told_beside_its_field_and_nothing_typed_is_lost(as_owner, lesson):
    answer = send(as_owner, "exercise-change", "R-FRO", reps_low="19", before="R-FW1\nR-SSP", note="kept in the form")
    html = answer.content.decode()
    assert answer.status_code == 409
    assert "would lead in a circle" in html and "Short spine massage" in html and "kept in the form" in html
    assert row()["reps_low"] == "6"


def test_two_at_one_row_the_second_sees_what_the_first_did_and_may_send_again(as_owner, lesson, owner):
    html = page(as_owner, "exercise-change", "R-FRO")
    entries.change_entry(About.EXERCISE, "R-FRO", wanted={"level": "2"}, by=owner, now=NOW)
    mine = filled(html) | {"reps_high": "9"}
    answer = as_owner.post(address("exercise-change", "R-FRO"), mine)
    again = answer.content.decode()
    assert answer.status_code == 409 and "Meanwhile it was changed by" in again and "Level" in again
    assert as_owner.post(address("exercise-change", "R-FRO"), filled(again)).status_code == 302
    assert row()["reps_high"] == "9"


def test_a_new_row_is_filled_in_from_one_like_it(as_owner, lesson):
    answer = send(as_owner, "exercise-new", query="?like=R-FRO", exercise="Frog on the side")
    made = models.Exercise.objects.get(pk="R-OWN1")
    assert answer["Location"] == address("exercise", "R-OWN1")
    assert made.row["demands"] == row()["demands"] and made.name == "Frog on the side"
    assert "made here" in page(as_owner, "exercise", "R-OWN1")


@pytest.mark.parametrize("key", ["R-NONE", "a\x00b", "x" * 900, "🦩"])
def test_a_key_in_the_address_that_is_none_leaves_the_form_empty(as_owner, lesson, key):
    assert 'name="exercise"' in page(as_owner, "exercise-new", like=key)
    assert 'name="change"' in page(as_owner, "step-new", exercise=key)


def test_out_of_use_and_back(as_owner, lesson):
    send(as_owner, "exercise-new", query="?like=R-FRO", exercise="Frog on the side")
    assert as_owner.post(address("exercise-retire", "R-OWN1"), {"why": "nobody teaches it"}).status_code == 302
    assert "out of use" in page(as_owner, "exercise", "R-OWN1")
    assert as_owner.post(address("exercise-back", "R-OWN1")).status_code == 302
    assert "Change it" in page(as_owner, "exercise", "R-OWN1")
    answer = as_owner.post(address("exercise-retire", "R-FRO"), {"why": ""})
    assert answer.status_code == 409 and "asks for Frog in loops first" in answer.content.decode()


def test_a_step_is_changed_added_and_taken_out_of_use(as_owner, lesson):
    assert send(as_owner, "step", "FW-S1", change="stop two notches out").status_code == 302
    assert "stop two notches out" in page(as_owner, "exercise", "R-FW1").lower()
    answer = send(as_owner, "step-new", query="?exercise=R-FW1", change="a wedge", when_seen="a long back")
    assert answer["Location"] == address("step", "FW-OWN1")
    assert as_owner.post(address("step-retire", "FW-OWN1"), {"why": ""}).status_code == 302
    assert "out of use" in page(as_owner, "step", "FW-OWN1")
    assert as_owner.post(address("step-back", "FW-OWN1")).status_code == 302


# --- proposing -------------------------------------------------------------------------------------------------------


def test_a_teachers_change_waits_for_the_owner_and_a_decision_can_be_undone(teacher, as_owner, lesson):
    assert send(teacher, "exercise-change", "R-FRO", reps_low="3", why="ours are slower").status_code == 302
    assert row()["reps_low"] == "6"
    asked = models.RepertoireProposal.objects.get()
    assert "proposed" in page(teacher, "exercise", "R-FRO")
    assert "Proposals (1 open)" in page(as_owner, "repertoire")
    html = page(as_owner, "proposal", asked.pk)
    assert "Fewest repetitions" in html and "Take it over" in html
    assert "Take it over" not in page(teacher, "proposal", asked.pk)
    seen = {"deed": "take_over", "seen": "1", "answer": ""}
    answer = as_owner.post(address("proposal-decide", asked.pk), seen, follow=True)
    assert row()["reps_low"] == "3" and address("take-back", asked.pk) in answer.content.decode()
    as_owner.post(address("take-back", asked.pk))
    assert row()["reps_low"] == "6"
    assert "Take it over" in page(as_owner, "proposal", asked.pk)


def test_the_office_says_what_waits_for_the_owner_and_nothing_when_nothing_does(teacher, as_owner, lesson):
    assert page(as_owner, "waiting-panel").strip() == ""
    send(teacher, "exercise-change", "R-FRO", reps_low="3", why="ours are slower")
    models.Template.objects.filter(name="Short visit").update(state="proposed")
    html = page(as_owner, "waiting-panel")
    assert "Frog in loops" in html and "Short visit, version 1" in html and lesson.teacher.name in html
    assert teacher.get(address("waiting-panel")).status_code == 403


def test_a_proposal_needs_its_reason_and_turning_down_its_words(teacher, as_owner, lesson):
    answer = send(teacher, "exercise-change", "R-FRO", reps_low="3", why="")
    assert answer.status_code == 409 and "what it is for" in answer.content.decode()
    send(teacher, "exercise-change", "R-FRO", reps_low="3", why="ours are slower")
    asked = models.RepertoireProposal.objects.get()
    answer = as_owner.post(address("proposal-decide", asked.pk), {"deed": "turn_down", "answer": "", "seen": "1"})
    assert answer.status_code == 409 and "why not" in answer.content.decode()
    as_owner.post(address("proposal-decide", asked.pk), {"deed": "turn_down", "answer": "Six is few enough."})
    assert "Six is few enough." in page(teacher, "proposals")


def test_a_teacher_proposes_a_new_row_a_step_and_going_out_of_use(teacher, as_owner, lesson):
    send(teacher, "exercise-new", query="?like=R-FRO", exercise="Frog on the side", why="for the side")
    send(teacher, "step-new", query="?exercise=R-FW1", change="a wedge", why="for long backs")
    teacher.post(address("step-retire", "FW-S7"), {"why": "the same twice"})
    told = page(as_owner, "proposals")
    for word in ("Frog on the side", "new exercise", "new step of a ladder", "take the step of a ladder out of use"):
        assert word in told, word
    for asked in models.RepertoireProposal.objects.all():
        page(as_owner, "proposal", asked.pk)
        answer = as_owner.post(address("proposal-decide", asked.pk), {"deed": "take_over", "answer": "", "seen": ""})
        assert answer.status_code == 302
        page(as_owner, "proposal", asked.pk)
    assert models.Exercise.objects.filter(pk="R-OWN1").exists() and models.LadderStep.objects.get(pk="FW-S7").retired_at


def test_one_withdraws_ones_own_and_takes_that_back(teacher, lesson):
    send(teacher, "exercise-change", "R-FRO", reps_low="3", why="ours are slower")
    asked = models.RepertoireProposal.objects.get()
    teacher.post(address("proposal-withdraw", asked.pk))
    assert models.RepertoireProposal.objects.get().decision == "withdrawn"
    teacher.post(address("take-back", asked.pk))
    assert models.RepertoireProposal.objects.get().decision == ""


def test_what_is_not_there_is_not_found(teacher, as_owner, lesson):
    for name in ("exercise", "exercise-change", "exercise-versions", "exercise-retire"):
        assert teacher.get(address(name, "R-NONE")).status_code == 404, name
    for name in ("step", "step-retire"):
        assert teacher.get(address(name, "XX-S1")).status_code == 404, name
    nobody = "00000000-0000-4000-8000-000000000000"
    assert teacher.get(address("proposal", nobody)).status_code == 404
    assert as_owner.post(address("proposal-decide", nobody), {"deed": "take_over"}).status_code == 404
    assert as_owner.post(address("exercise-back", "R-NONE")).status_code == 404


def test_a_teacher_neither_decides_nor_brings_back(teacher, lesson):
    nobody = "00000000-0000-4000-8000-000000000000"
    for name, key in (("proposal-decide", nobody), ("exercise-back", "R-FRO"), ("step-back", "FW-S1")):
        assert teacher.post(address(name, key)).status_code == 403, name
