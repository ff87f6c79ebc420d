"""The floor as its people see it: the day, the brief, the program, the run sheet, with and without htmx."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from clients import queries as client_queries
from clients.actions import workbench
from clients.models import Client
from programming import models
from scheduling import actions as scheduling_actions
from studio.models import AuditEntry
from tests import make_programming as practice
from tests import make_scheduling
from tests.conftest import logged_in
from tests.make_programming import LESSON

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LESSON, tick=False) as traveller:
        yield traveller


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


@pytest.fixture
def program(lesson):
    return lesson.assign()


def page(client, name: str, *args: object, **data: object) -> str:
    answer = client.get(reverse(f"programming:{name}", args=args), data)
    assert answer.status_code == 200, answer.status_code
    return answer.content.decode()


def post(client, name: str, *args: object, htmx: bool = False, **data: object):
    headers = {"HX-Request": "true"} if htmx else {}
    return client.post(reverse(f"programming:{name}", args=args), data, headers=headers)


def bare(html: str) -> str:
    """Without the tokens that differ from answer to answer."""
    return re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", html)


def log(lesson):
    return models.Log.objects.filter(place=lesson.place).first()


def condition_names() -> list[str]:
    return ["steoporosis", "bone density"]


# --- the day ---------------------------------------------------------------------------------------------------------


def test_the_floor_lists_her_lessons_with_ways_to_brief_and_run_sheet(teacher, lesson, program):
    html = page(teacher, "floor")
    assert "Ruvena Tarnelow" in html and "10:15" in html and "Reformer 1" in html
    assert reverse("programming:brief", args=[lesson.place.pk]) in html
    assert reverse("programming:run-sheet", args=[lesson.place.pk]) in html
    assert "first visit" in html


def test_a_day_without_lessons_is_kind_and_another_day_is_one_tap_away(teacher, lesson):
    html = page(teacher, "floor", day="2026-03-14")
    assert "No lesson on this day" in html
    assert "?day=2026-03-13" in html and "?day=2026-03-15" in html


@pytest.mark.parametrize("day", ["", "yesterday", "9999-12-31", "0001-01-01", "2026-02-30", "🦩"])
def test_a_day_that_is_none_shows_today(teacher, lesson, day):
    assert "Ruvena Tarnelow" in page(teacher, "floor", day=day)


def test_the_home_panel_shows_what_is_still_to_come(teacher, lesson):
    assert "10:15" in page(teacher, "home-floor")


# --- the brief -------------------------------------------------------------------------------------------------------


def test_the_brief_shows_limits_in_words_and_templates_to_choose(teacher, lesson):
    html = page(teacher, "brief", lesson.place.pk)
    assert "avoid" in html and "adapt" in html and "watch" in html
    assert "Foundation order" in html and "Fit it" in html
    assert "not medical advice" in html


def test_the_brief_says_that_nobody_licensed_has_read_the_rules_until_somebody_has(teacher, lesson, owner):
    says = "not reviewed by a licensed professional yet"
    assert says in page(teacher, "brief", lesson.place.pk)
    words = {"name": "Imre Valdotti", "profession": "physiotherapist", "what": "limits"}
    base = client_queries.rules_in_force().id
    workbench.review_version(base, **words, on=practice.NOW.date(), by=owner, now=practice.NOW)
    assert says not in page(teacher, "brief", lesson.place.pk)


def test_no_condition_stands_in_large_type_on_the_brief(teacher, lesson):
    """Another client is within earshot and eyeshot: conditions stand only inside the folded why lines."""
    html = page(teacher, "brief", lesson.place.pk)
    open_part = re.sub(r"<details.*?</details>", "", html, flags=re.S)
    assert any(name in html for name in condition_names())
    assert not any(name in open_part for name in condition_names())


def test_choosing_a_template_fits_it_and_shows_the_program(teacher, lesson):
    chosen = practice.template().pk
    answer = post(teacher, "assign", lesson.place.pk, template=chosen, pace="learning")
    made = models.Program.objects.get(place=lesson.place)
    assert answer["Location"] == reverse("programming:program", args=[made.pk])
    assert (made.pace, made.minutes) == ("learning", 55)


@pytest.mark.parametrize("template", ["", "nonsense", "x" * 5000])
def test_a_template_that_is_none_is_said_kindly(teacher, lesson, template):
    answer = post(teacher, "assign", lesson.place.pk, template=template)
    assert answer.status_code == 302
    assert not models.Program.objects.exists()


def test_an_unknown_template_is_not_found(teacher, lesson):
    answer = post(teacher, "assign", lesson.place.pk, template="00000000-0000-4000-8000-000000000000")
    assert answer.status_code == 404


def test_templates_are_searched_as_a_fragment_and_as_a_page(teacher, lesson):
    address = reverse("programming:templates", args=[lesson.place.pk])
    fragment = teacher.get(address, {"q": "tower"}, headers={"HX-Request": "true"}).content.decode()
    whole = teacher.get(address, {"q": "tower"}).content.decode()
    assert "<html" not in fragment and bare(fragment).strip() in bare(whole)
    assert "Tower round" in fragment and "Short visit" not in fragment


def test_somebody_elses_client_asks_for_a_reason_and_keeps_it(lesson):
    stranger = make_scheduling.teacher("Wandra Bevlan", "WB", lesson.house).person
    client = logged_in(stranger)
    address = reverse("programming:brief", args=[lesson.place.pk])
    closed = client.get(address)
    assert closed.status_code == 403
    assert "Say why you need to look" in closed.content.decode()
    assert not any(name in closed.content.decode() for name in condition_names())
    assert client.post(address, {"look": "1", "why": "stands in today"}).status_code == 302
    assert client.get(address).status_code == 200
    assert AuditEntry.objects.filter(verb="read_brief", person=stranger, why="stands in today").exists()


def test_an_empty_reason_opens_nothing(lesson, as_owner):
    answer = as_owner.post(reverse("programming:brief", args=[lesson.place.pk]), {"look": "1", "why": "  "})
    assert answer.status_code == 403


# --- the program -----------------------------------------------------------------------------------------------------


def test_the_program_page_shows_rail_table_decisions_and_why(teacher, lesson, program):
    html = page(teacher, "program", program.pk)
    for word in ("rail full", "The rail as a table", "as planned", "adapted", "Condition", "Demand", "Rule", "Source"):
        assert word in html
    assert "Strength: " in html and "What the rules say" in html and "not medical advice" in html


def test_a_program_fitted_for_another_machine_says_so_and_is_fitted_again(teacher, lesson, program):
    scheduling_actions.change_springs(lesson.place.apparatus_id, springs="MMML", by=None, now=LESSON)
    assert "have changed since it was fitted" in page(teacher, "program", program.pk)
    answer = post(teacher, "refit", program.pk)
    again = models.Program.objects.get(place=lesson.place, replaced_at=None)
    assert answer["Location"] == reverse("programming:program", args=[again.pk])
    assert "have changed since" not in page(teacher, "program", again.pk)
    assert "taken this one" in page(teacher, "program", program.pk)


def test_fitting_again_without_need_says_that_nothing_had_to_change(teacher, lesson, program):
    answer = teacher.post(reverse("programming:refit", args=[program.pk]), follow=True)
    assert "nothing had to change" in answer.content.decode()
    assert models.Program.objects.count() == 1


# --- the run sheet ---------------------------------------------------------------------------------------------------


def test_the_run_sheet_shows_line_springs_repetitions_and_next(teacher, lesson, program):
    html = page(teacher, "run-sheet", lesson.place.pk)
    assert "Toes" in html and "line 1 of" in html
    assert re.search(r"Hook <em>two heavy and one medium</em>", html)
    assert "springbar" in html and "Arches" in html
    assert html.count('name="mark"') == 4


def test_nothing_on_the_run_sheet_names_a_condition(teacher, lesson, program):
    for name in ("run-sheet", "run-lines"):
        assert not any(word in page(teacher, name, lesson.place.pk) for word in condition_names())


def first_line(program):
    return program.lines.exclude(decision="left_out").order_by("position")[0]


def test_one_tap_marks_and_turns_without_script(teacher, lesson, program):
    answer = post(teacher, "mark", lesson.place.pk, line=first_line(program).pk, mark="done")
    assert answer.status_code == 302
    html = page(teacher, "run-sheet", lesson.place.pk)
    assert "line 2 of" in html and "Toes done" in html


def test_one_tap_turns_the_sheet_with_htmx_to_the_same_words(teacher, lesson, program):
    answer = post(teacher, "mark", lesson.place.pk, htmx=True, line=first_line(program).pk, mark="fewer")
    fragment = answer.content.decode()
    assert answer.status_code == 200 and "<html" not in fragment
    assert "Arches" in fragment and "Toes fewer" in fragment and "line 2 of" in fragment


def test_the_same_form_sent_twice_is_one_mark(teacher, lesson, program):
    for _ in range(2):
        post(teacher, "mark", lesson.place.pk, line=first_line(program).pk, mark="done")
    assert log(lesson).lines.count() == 1


def test_undo_stands_for_eight_seconds_and_goes_back_to_its_line(teacher, lesson, program, clock):
    line = first_line(program)
    post(teacher, "mark", lesson.place.pk, line=line.pk, mark="done")
    assert "Undo, back to Toes" in page(teacher, "run-sheet", lesson.place.pk)
    answer = post(teacher, "undo", lesson.place.pk, line=line.pk)
    assert answer["Location"].endswith(f"?line={line.pk}")
    assert not log(lesson).lines.exists()
    post(teacher, "mark", lesson.place.pk, line=line.pk, mark="done")
    clock.shift(timedelta(seconds=9))
    assert "Undo, back to Toes" not in page(teacher, "run-sheet", lesson.place.pk)


def test_a_score_is_one_tap_after_a_mark(teacher, lesson, program):
    line = first_line(program)
    post(teacher, "mark", lesson.place.pk, line=line.pk, mark="done")
    assert page(teacher, "run-sheet", lesson.place.pk).count('name="score"') == 5
    post(teacher, "score", lesson.place.pk, htmx=True, line=line.pk, score="4")
    assert log(lesson).lines.get().score == 4


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("mark", {}),
        ("mark", {"line": "nonsense", "mark": "done"}),
        ("mark", {"line": "00000000-0000-4000-8000-000000000000", "mark": "done"}),
        ("mark", {"line": "00000000-0000-4000-8000-000000000000", "mark": "sideways"}),
        ("undo", {"line": "nonsense"}),
        ("score", {"line": "00000000-0000-4000-8000-000000000000", "score": "9"}),
        ("finish", {}),
    ],
)
def test_taps_that_make_no_sense_are_refused_in_words(teacher, lesson, program, name, data):
    answer = post(teacher, name, lesson.place.pk, **data)
    assert answer.status_code == 409
    assert log(lesson) is None


def test_a_note_is_kept_and_shown_again_to_her_teacher(teacher, lesson, program):
    post(teacher, "mark", lesson.place.pk, line=first_line(program).pk, mark="done")
    assert post(teacher, "note", lesson.place.pk, note="breath came late 🦩").status_code == 302
    assert "breath came late 🦩" in page(teacher, "note", lesson.place.pk)


def test_finishing_shows_the_log_and_the_next_reassessment(teacher, lesson, program):
    for line in program.lines.exclude(decision="left_out"):
        post(teacher, "mark", lesson.place.pk, line=line.pk, mark="done")
    assert "All lines are marked" in page(teacher, "run-sheet", lesson.place.pk)
    for _ in range(2):
        assert post(teacher, "finish", lesson.place.pk).status_code == 302
    html = page(teacher, "run-sheet", lesson.place.pk)
    assert "Next reassessment" in html and "23 April 2026" in html
    assert 'name="mark"' not in html
    assert Client.objects.get(pk=lesson.client.pk).visits == 1


def test_a_run_sheet_without_a_program_leads_to_the_brief(teacher, lesson):
    html = page(teacher, "run-sheet", lesson.place.pk)
    assert "Nothing is planned for this lesson yet" in html
    assert reverse("programming:brief", args=[lesson.place.pk]) in html


def test_another_teachers_run_sheet_is_closed(lesson, program):
    stranger = logged_in(lesson.house.teachers[1].person)
    assert stranger.get(reverse("programming:run-sheet", args=[lesson.place.pk])).status_code == 409
    assert post(stranger, "mark", lesson.place.pk, line=first_line(program).pk, mark="done").status_code == 409
    assert log(lesson) is None


# --- the card's panel and the repertoire -----------------------------------------------------------------------------


def test_the_panel_lists_programs_and_where_she_stands_for_her_teacher_only(teacher, lesson, program, as_owner):
    lesson.teach()
    hers, owners = (page(client, "client-panel", lesson.client.pk) for client in (teacher, as_owner))
    assert "Foundation order" in hers and "introduced" in hers
    assert "Foundation order" in owners and "introduced" not in owners


def test_the_desk_opens_nothing_of_the_floor(as_desk, lesson, program):
    for name, key in (("brief", lesson.place.pk), ("program", program.pk), ("client-panel", lesson.client.pk)):
        assert as_desk.get(reverse(f"programming:{name}", args=[key])).status_code == 403


def test_a_reload_shows_what_would_change_before_it_does(as_owner, lesson):
    assert "would change nothing" in page(as_owner, "reload")
    exercise = models.Exercise.objects.get(pk="R-FW1")
    older = exercise.row | {"note": "an older edition"}
    models.Exercise.objects.filter(pk="R-FW1").update(row=older, reference_row=older)
    assert "an older edition" in page(as_owner, "reload")
    assert models.Exercise.objects.get(pk="R-FW1").row["note"] == "an older edition"
    assert as_owner.post(reverse("programming:reload")).status_code == 302
    assert models.Exercise.objects.get(pk="R-FW1").row == exercise.row


def test_unknown_keys_are_not_found(teacher, lesson):
    nobody = "00000000-0000-4000-8000-000000000000"
    for name in ("brief", "run-sheet", "run-lines", "program", "client-panel", "templates"):
        assert teacher.get(reverse(f"programming:{name}", args=[nobody])).status_code == 404, name
    assert teacher.get(reverse("programming:exercise", args=["R-NONE"])).status_code == 404
