"""Progress, plan, load, papers and files as their people see them."""

import csv
import gzip
import io
import re
from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from programming import actions, models
from programming.actions import telling
from programming.rules.felt import Felt
from scheduling.models import MayTeach
from studio.models import AuditEntry
from studio.rules import Role
from tests import make
from tests import make_programming as practice
from tests.conftest import logged_in
from tests.make_programming import DAY, LESSON

pytestmark = pytest.mark.django_db
LATER = LESSON + timedelta(hours=2)
CANARY = "heron over the reeds"


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LATER, tick=False) as traveller:
        yield traveller


@pytest.fixture
def teacher(lesson):
    return logged_in(lesson.teacher)


@pytest.fixture
def taught(lesson):
    lesson.assign()
    return lesson.teach(score=4)


def page(client, name: str, *args: object, status: int = 200, **data: object) -> str:
    answer = client.get(reverse(f"programming:{name}", args=args), data)
    assert answer.status_code == status, answer.status_code
    return answer.content.decode()


def post(client, name: str, *args: object, **data: object):
    return client.post(reverse(f"programming:{name}", args=args), data)


def again(lesson, days=1, *, score=4):
    other = practice.lesson(lesson.house, lesson.client, day=DAY + timedelta(days=days))
    other.assign(now=LATER)
    return other.teach(score=score)


def undo_of(html: str) -> str:
    return re.findall(r'action="([^"]*/back/)"', html)[0]


# --- progress --------------------------------------------------------------------------------------------------------


def test_two_clean_lessons_wait_for_a_decision_that_can_be_undone(lesson, taught, clock):
    again(lesson)
    clock.move_to(LATER + timedelta(days=1))
    teacher = logged_in(lesson.teacher)
    html = page(teacher, "progress", lesson.client.pk)
    assert "Proposed: <b>advance</b>, alone and clean in 2 lessons running" in html
    answer = post(teacher, "decide", lesson.client.pk, "R-FW1", decided="advance")
    assert answer.status_code == 302
    html = page(teacher, "progress", lesson.client.pk)
    assert "Decided for next time" in html and "single leg, other foot on carriage edge" in html
    teacher.post(undo_of(html))
    assert models.StepDecision.objects.get().taken_back_at is not None
    assert "Decided for next time" not in page(teacher, "progress", lesson.client.pk)


def test_the_next_brief_and_run_sheet_say_what_was_decided(lesson, taught, teacher):
    post(teacher, "decide", lesson.client.pk, "R-FW1", decided="step_back")
    other = practice.lesson(lesson.house, lesson.client, day=DAY, hour=15)
    other.assign(now=LATER)
    assert "Decided for today" in page(teacher, "brief", other.place.pk)
    assert "<b>Decided:</b> step back" in page(teacher, "run-sheet", other.place.pk)


def test_what_is_no_step_is_refused_in_words(lesson, taught, teacher):
    answer = post(teacher, "decide", lesson.client.pk, "R-FW1", decided="leap")
    assert answer.status_code == 409 and "Choose advance, repeat or step back" in answer.content.decode()


def test_the_owner_says_why_before_she_reads_progress(lesson, taught):
    owner = logged_in(make.person(Role.OWNER, name="Teodora Quist", email="teodora@studio.example"))
    for name in ("progress", "plan", "load", "home-card", "log-file"):
        assert "Say why you need to look" in page(owner, name, lesson.client.pk, status=403)
    post(owner, "progress", lesson.client.pk, look="1", why="asked by the client")
    assert "Waits for your decision" in page(owner, "progress", lesson.client.pk)
    kept = AuditEntry.objects.filter(kind="read", verb="open_progress").latest("pk")
    assert kept.why == "asked by the client"


def test_the_desk_reads_none_of_it(lesson, taught):
    desk = logged_in(make.person(Role.DESK, name="Wilma Ostrander", email="wilma@studio.example"))
    for name in ("progress", "plan", "load", "home-card", "log-file"):
        page(desk, name, lesson.client.pk, status=403)


def test_one_exercise_shows_every_lesson_and_its_grant_is_given_and_taken_back(lesson, taught, teacher):
    MayTeach.objects.filter(instructor__person=lesson.teacher).update(level=5)
    answer = post(teacher, "exercise-progress", lesson.client.pk, "R-FW1", owned="yes", reason=CANARY)
    assert answer.status_code == 302
    html = page(teacher, "exercise-progress", lesson.client.pk, "R-FW1")
    assert CANARY in html and "granted as owned" in html
    teacher.post(undo_of(html))
    assert "(taken back)" in page(teacher, "exercise-progress", lesson.client.pk, "R-FW1")


def test_a_grant_without_a_reason_says_so_beside_the_field(lesson, taught, teacher):
    MayTeach.objects.filter(instructor__person=lesson.teacher).update(level=5)
    answer = post(teacher, "exercise-progress", lesson.client.pk, "R-FW1", owned="yes", reason=" ")
    assert answer.status_code == 409 and "This field is required" in answer.content.decode()
    assert not models.Grant.objects.exists()


def test_a_level_is_signed_on_its_page_and_what_is_missing_is_said(lesson, taught, teacher):
    html = page(teacher, "level", lesson.client.pk, "reformer")
    assert "0 of" in html or "are asked" in html
    answer = post(teacher, "level", lesson.client.pk, "reformer", level="3")
    assert answer.status_code == 409 and "are asked." in answer.content.decode()
    answer = post(teacher, "level", lesson.client.pk, "reformer", level="3", reason="eight years elsewhere")
    assert answer.status_code == 302
    assert "level 3" in page(teacher, "progress", lesson.client.pk)
    assert post(teacher, "level", lesson.client.pk, "trapeze", level="3").status_code == 409


# --- plan and load ---------------------------------------------------------------------------------------------------


def test_the_plan_is_drawn_and_stands_as_a_table_behind(lesson, taught, teacher):
    html = page(teacher, "plan", lesson.client.pk)
    assert 'class="plan"' in html and "The plan as a table" in html
    assert "introduced (1)" in html
    assert "style=" not in html and "<script>" not in html
    for back in ("1", "-3", "x", "9" * 40, "99"):
        page(teacher, "plan", lesson.client.pk, back=back)


def test_a_lesson_is_rated_on_its_log_and_the_number_undone(lesson, taught, teacher):
    assert "How hard was the whole lesson?" in page(teacher, "run-sheet", lesson.place.pk)
    assert "Not asked yet" in page(teacher, "load", lesson.client.pk)
    post(teacher, "effort", lesson.place.pk, effort="7")
    html = page(teacher, "load", lesson.client.pk)
    # 7 x 55 minutes: foster2001, read in abstract.
    assert "<b>385</b>" in html and "7, very hard" in html and "Not asked yet" not in html
    post(teacher, "effort-back", lesson.place.pk)
    assert models.Log.objects.get().effort is None
    assert post(teacher, "effort", lesson.place.pk, effort="11").status_code == 409


def test_the_load_warns_nobody_and_names_its_sources(lesson, taught, teacher):
    html = page(teacher, "load", lesson.client.pk)
    assert "None of this tells of an injury to come" in html and "Foster 2001" in html
    assert not re.search(r"risk|danger|too high|overload", html, re.IGNORECASE)


# --- what was felt ---------------------------------------------------------------------------------------------------


def line_of(taught):
    return taught.lines.get(program_line__exercise_id="R-FW1").program_line_id


def test_pain_is_told_in_one_tap_and_read_back(lesson, taught, teacher):
    line = line_of(taught)
    assert "Pain, 0 none to 10" in page(teacher, "felt", lesson.place.pk, line=line)
    answer = post(teacher, "felt", lesson.place.pk, line=line, pain="3", symptom="dizzy")
    assert answer.status_code == 302
    html = page(teacher, "run-sheet", lesson.place.pk)
    assert "A stop sign." in html and "noted" in html
    assert re.search(r'value="3"[^>]* checked', page(teacher, "felt", lesson.place.pk, line=line))
    assert "Proposed: <b>step back</b>, pain of 3 out of 10" in page(teacher, "progress", lesson.client.pk)


@pytest.mark.parametrize("wrong", [{"pain": "11"}, {"pain": "x"}, {"symptom": "itch"}, {"lasting": "on", "pain": "2"}])
def test_what_cannot_be_felt_is_said_beside_the_field(lesson, taught, teacher, wrong):
    answer = post(teacher, "felt", lesson.place.pk, line=line_of(taught), **wrong)
    assert answer.status_code == 409
    assert models.LogLine.objects.filter(sealed_felt__isnull=False).count() == 0


def test_a_line_that_is_not_of_this_lesson_is_refused(lesson, taught, teacher):
    for line in ("", "x", "00000000-0000-4000-8000-000000000000"):
        page(teacher, "felt", lesson.place.pk, line=line, status=409)


def test_without_a_line_the_one_marked_last_is_asked_for(lesson, teacher):
    program = lesson.assign()
    assert post(teacher, "felt", lesson.place.pk).status_code == 302
    first, second = program.lines.exclude(decision="left_out").order_by("position")[:2]
    lesson.mark(first.pk)
    lesson.mark(second.pk, now=LESSON + timedelta(minutes=3))
    html = page(teacher, "felt", lesson.place.pk)
    assert f'name="line" value="{second.pk}"' in html and f"?line={first.pk}" in html


def test_a_finished_log_is_opened_again_from_its_page(lesson, taught, teacher):
    assert "Open the log again" in page(teacher, "run-sheet", lesson.place.pk)
    post(teacher, "reopen", lesson.place.pk)
    assert models.Log.objects.get().finished_at is None
    assert "All lines are marked" in page(teacher, "run-sheet", lesson.place.pk)


# --- papers and files ------------------------------------------------------------------------------------------------


def test_a_lesson_card_is_a_pdf_whose_making_is_on_record_and_whose_address_names_nobody(lesson, teacher):
    program = lesson.assign()
    answer = teacher.get(reverse("programming:lesson-card", args=[program.pk]))
    assert answer["Content-Type"] == "application/pdf" and answer.content.startswith(b"%PDF")
    assert answer["Content-Disposition"] == 'inline; filename="lesson-card.pdf"'
    assert answer["Cache-Control"] == "no-store"
    assert AuditEntry.objects.filter(kind="read", verb="print_lesson_card", key=str(program.pk)).count() == 1


def home(lesson) -> None:
    """Two clean lessons of a mat template, so that its rows are owned."""
    practice.make_template("Mat at hand", "M-01", "M-04", "M-05", "M-19")
    for day in (0, 1):
        other = practice.lesson(lesson.house, lesson.client, day=DAY + timedelta(days=day), hour=16)
        other.assign("Mat at hand", now=LATER)
        other.teach(score=4)


def test_a_home_card_offers_what_may_go_home_and_is_made_of_it(lesson, clock):
    home(lesson)
    clock.move_to(LATER + timedelta(days=1, hours=8))
    teacher = logged_in(lesson.teacher)
    html = page(teacher, "home-card", lesson.client.pk)
    assert "Single leg circle" in html and "Rolling like a ball" not in html
    answer = post(teacher, "home-card", lesson.client.pk, rows=["M-04"], times="3", words="Quiet ribs.")
    assert answer["Content-Type"] == "application/pdf" and answer.content.startswith(b"%PDF")
    assert AuditEntry.objects.filter(kind="read", verb="print_home_card").count() == 1


def test_what_may_not_go_home_is_refused_beside_the_list(lesson, clock):
    home(lesson)
    clock.move_to(LATER + timedelta(days=1, hours=8))
    teacher = logged_in(lesson.teacher)
    for rows in (["M-05"], ["R-FW1"], [], ["x"]):
        answer = post(teacher, "home-card", lesson.client.pk, rows=rows, times="3")
        assert answer.status_code == 409, rows
    assert not AuditEntry.objects.filter(verb="print_home_card").exists()


def test_whoever_owns_nothing_for_home_gets_kind_words(lesson, taught, teacher):
    assert "Nothing to take home yet" in page(teacher, "home-card", lesson.client.pk)


def test_the_log_as_a_file_has_a_row_for_each_line_and_no_cell_that_runs(lesson, teacher):
    lesson.assign()
    log = lesson.mark(models.ProgramLine.objects.filter(exercise_id="R-FW1")[0].pk, score=4).log
    actions.note_log(log.pk, note="=1+1", by=lesson.teacher, now=LESSON)
    lesson.teach(score=4)
    telling.tell_felt(log.pk, line_id=line_of(log), felt=Felt(2, "sore"), by=lesson.teacher, now=LATER)
    telling.rate_lesson(log.pk, effort=6, by=lesson.teacher, now=LATER)
    answer = teacher.get(reverse("programming:log-file", args=[lesson.client.pk]))
    assert answer["Content-Disposition"] == 'attachment; filename="lesson-log.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"), newline="")))
    assert len(rows) == log.lines.count()
    first = rows[0]
    assert (first["Day"], first["Starts"], first["Lesson load"]) == (DAY.isoformat(), "10:15", "330")
    assert first["Lesson note"] == "'=1+1"
    told = next(row for row in rows if row["Exercise key"] == "R-FW1")
    assert (told["Score"], told["Pain"], told["What was felt"]) == ("4", "2", "sore afterwards")
    assert AuditEntry.objects.filter(kind="read", verb="take_out_log", client_key=lesson.client.pk).count() == 1


def test_the_card_of_a_client_leads_to_progress_plan_load_and_files(lesson, taught, teacher):
    html = page(teacher, "client-panel", lesson.client.pk)
    for name in ("progress", "plan", "load", "home-card", "log-file"):
        assert reverse(f"programming:{name}", args=[lesson.client.pk]) in html


def test_no_page_of_progress_is_heavy(lesson, taught, teacher):
    """Budget of a page: 60 KB of HTML, compressed (a goal of this house)."""
    for name in ("progress", "plan", "load"):
        assert len(gzip.compress(page(teacher, name, lesson.client.pk).encode())) < 60_000, name
