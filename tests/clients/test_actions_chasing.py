"""Letters that are waited for, the reminders that say nothing of health, and the photograph on a card."""

import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image
from pypdf import PdfReader

from clients import actions, models, queries
from clients.actions import files
from studio import models as studio_models
from studio.actions import notices
from studio.doors import paper
from studio.rules import Refused, Role
from tests import make_clients as make
from tests import papers

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
Notice = studio_models.Notice


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def desk():
    return make.person(Role.DESK)


@pytest.fixture
def teacher():
    return make.person(Role.INSTRUCTOR, name="Henrike Aldous")


def waiting(name="Ruvena Tarnelow", *, email="ruvena@mail.example", agrees=True, now=make.NOW):
    client = make.client(name, email=email)
    make.signed_form(client, {"S6": ["yes"]}, signature=name, now=now)
    if agrees:
        actions.give_consent(client.pk, kind="messages", given_by=name, by=None, now=now)
    return client


def request_of(client):
    return models.LetterRequest.objects.get(client=client, closed_at=None)


def reminders():
    return Notice.objects.filter(kind="letter_wanted")


def refused(deed):
    with pytest.raises(Refused) as found:
        deed()
    return [one.code for one in found.value.reasons]


def test_mails_go_by_themselves_after_a_week_and_after_three_and_then_never(post_office):
    waiting()
    sent = []
    for day in range(60):
        now = make.NOW + day * DAY
        actions.remind_due(now=now)
        actions.remind_due(now=now)
        notices.send_due(now=now)
        sent += [day] * (len(post_office.letters) - len(sent))
    assert sent == [7, 21]
    body = post_office.letters[0].get_content()
    assert "paper" in body and "Ruvena" in body
    for word in ("health", "doctor", "clinician", "heart", "letter first", "racing", "medical"):
        assert word not in body.lower()


def test_nobody_is_reminded_by_night_and_the_mail_goes_in_the_morning(post_office):
    waiting()
    midnight = (make.NOW + 8 * DAY).replace(hour=0)
    assert actions.remind_due(now=midnight) == 0
    assert actions.remind_due(now=midnight.replace(hour=11)) == 1


def test_without_leave_for_messages_nobody_is_mailed_and_the_list_says_to_speak_with_her(desk):
    silent, unreachable = waiting(agrees=False), waiting("Orsolin Teague", email="")
    assert actions.remind_due(now=make.NOW + 7 * DAY) == 0
    assert refused(lambda: actions.remind_now(request_of(silent).pk, by=desk, now=make.NOW)) == ["no_consent"]
    assert refused(lambda: actions.remind_now(request_of(unreachable).pk, by=desk, now=make.NOW)) == ["no_address"]
    rows = queries.letters_waited_for(now=make.NOW)
    assert all(row.is_time_to_speak and row.next_mail_on is None for row in rows) and len(rows) == 2


def test_a_reminder_by_hand_goes_at_once_and_once_a_day(desk):
    request = request_of(waiting())
    actions.remind_now(request.pk, by=desk, now=make.NOW)
    assert refused(lambda: actions.remind_now(request.pk, by=desk, now=make.NOW)) == ["reminded_today"]
    assert reminders().count() == 1
    actions.remind_now(request.pk, by=desk, now=make.NOW + DAY)
    assert reminders().count() == 2


def test_a_letter_that_came_or_is_not_asked_any_more_takes_unsent_reminders_back(desk):
    came, over = waiting(), waiting("Orsolin Teague", email="orsolin@mail.example")
    actions.remind_due(now=make.NOW + 7 * DAY)
    assert set(reminders().values_list("state", flat=True)) == {"waiting"}
    actions.hand_in(came.pk, pages=[papers.pdf()], routed_to=None, by=desk, now=make.NOW + 7 * DAY)
    make.signed_form(over, signature=over.name, now=make.NOW + 7 * DAY)
    assert set(reminders().values_list("state", flat=True)) == {"withdrawn"}
    assert actions.remind_due(now=make.NOW + 21 * DAY) == 0


def test_leave_for_messages_taken_back_takes_the_reminder_back(desk):
    client = waiting()
    actions.remind_due(now=make.NOW + 7 * DAY)
    actions.withdraw_consent(client.pk, kind="messages", by=desk, now=make.NOW + 7 * DAY)
    assert reminders().get().state == "withdrawn"


def test_the_desks_list_says_who_since_when_and_what_was_done_and_has_no_place_for_why(desk, teacher):
    client = waiting()
    client.usual_instructor = teacher
    client.save()
    (row,) = queries.letters_waited_for(now=make.NOW + 3 * DAY)
    assert (row.client_name, row.since, row.days, row.has_come) == (client.name, make.TODAY, 3, False)
    assert row.next_mail_on == make.TODAY + 7 * DAY
    assert not {"asks", "why", "reasons"} & set(row.__dataclass_fields__)
    actions.hand_in(client.pk, pages=[papers.pdf()], routed_to=None, by=desk, now=make.NOW + 4 * DAY)
    (row,) = queries.letters_waited_for(now=make.NOW + 4 * DAY)
    assert (row.has_come, row.lies_with, row.is_time_to_speak) == (True, teacher.name, False)


def test_the_list_takes_four_queries_for_any_number_of_clients(django_assert_num_queries):
    for name in ("Ruvena Tarnelow", "Orsolin Teague", "Isaura Penhale"):
        waiting(name, email=f"{name[:3]}@mail.example")
    with django_assert_num_queries(4):
        assert len(queries.letters_waited_for(now=make.NOW)) == 3


def test_a_teacher_sees_why_for_those_she_cares_for_and_each_look_is_recorded(teacher):
    mine, other = waiting(), waiting("Orsolin Teague", email="")
    care = {"first_day": make.TODAY, "last_day": make.TODAY, "why": "lesson", "source": "p:1", "now": make.NOW}
    actions.give_care(person=teacher, client=mine, **care)
    asks = actions.read_asks(by=teacher, now=make.NOW)
    assert list(asks) == [request_of(mine).pk] and all(asks.values())
    read = studio_models.AuditEntry.objects.filter(verb="read_letter_request")
    assert [(one.person, one.client_key) for one in read] == [(teacher, mine.pk)]
    assert refused(lambda: actions.read_request(request_of(other).pk, by=teacher, now=make.NOW)) == ["say_why"]


def test_the_why_of_many_costs_no_read_more_than_that_of_one(teacher):
    reads = []
    for name in ("Ruvena Tarnelow", "Orsolin Teague", "Imke Vandersloot"):
        client = waiting(name, email="")
        care = {"first_day": make.TODAY, "last_day": make.TODAY, "why": "lesson", "source": f"p:{name}"}
        actions.give_care(person=teacher, client=client, now=make.NOW, **care)
        with CaptureQueriesContext(connection) as asked:
            assert len(actions.read_asks(by=teacher, now=make.NOW)) == len(reads) + 1
        reads.append(sum("SELECT" in one["sql"][:9] for one in asked))
    assert reads[0] == reads[1] == reads[2]


def test_the_paper_asks_what_is_asked_and_no_more_and_that_it_was_printed_is_noted(teacher, desk):
    client = waiting()
    request = request_of(client)
    assert refused(lambda: actions.print_request(request.pk, by=desk, now=make.NOW, why="x")) == ["not_open"]
    found = actions.print_request(request.pk, by=teacher, now=make.NOW, why="she takes it along")
    request.refresh_from_db()
    assert (request.printed_at, request.printed_by) == (make.NOW, teacher)
    words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(printed(found))).pages)
    words = " ".join(words.split())
    assert client.name in words and "3 METs" in words
    assert all(" ".join(says.split())[:30] in words for says in found.asks)


def printed(found):
    values = {**found.__dict__, "client_id": "", "born_on": "", "printed_on": "16 March 2026"}
    return paper.pdf("clients/letter_request.typ", values)


# --- the photograph ---------------------------------------------------------------------------------------------------
@pytest.fixture
def pictured(desk):
    client = make.client()
    actions.give_consent(client.pk, kind="photographs", given_by=client.name, by=desk, now=make.NOW)
    actions.keep_photograph(client.pk, content=papers.photograph(900, 600), by=desk, now=make.NOW)
    return client


def test_a_photograph_needs_the_clients_leave(desk):
    client = make.client()
    picture = papers.photograph(900, 600)
    assert refused(lambda: actions.keep_photograph(client.pk, content=picture, by=desk, now=make.NOW)) == ["no_consent"]
    assert queries.photograph_of(client.pk) is None


def test_it_is_square_and_whoever_works_here_may_see_it(pictured, desk):
    opened = actions.read_file(queries.photograph_of(pictured.pk), by=desk, now=make.NOW)
    with Image.open(io.BytesIO(opened.content)) as picture:
        assert (picture.size, dict(picture.getexif())) == ((480, 480), {})


def test_another_photograph_takes_the_first_away_for_good(pictured, desk, django_capture_on_commit_callbacks):
    first = queries.photograph_of(pictured.pk)
    with django_capture_on_commit_callbacks(execute=True):
        actions.keep_photograph(pictured.pk, content=papers.photograph(500, 500), by=desk, now=make.NOW)
    assert queries.photograph_of(pictured.pk) != first and not files.path_of(first).exists()
    with pytest.raises(models.StoredFile.DoesNotExist):
        actions.read_file(first, by=desk, now=make.NOW)


def test_leave_taken_back_takes_the_photograph_away_for_good(pictured, desk, django_capture_on_commit_callbacks):
    key = queries.photograph_of(pictured.pk)
    assert files.path_of(key).exists()
    with django_capture_on_commit_callbacks(execute=True):
        actions.withdraw_consent(pictured.pk, kind="photographs", by=desk, now=make.NOW + DAY)
    assert queries.photograph_of(pictured.pk) is None and not files.path_of(key).exists()
