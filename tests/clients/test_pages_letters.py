"""The pages of letters: who opens which, what the desk never sees, how files are served, and what is refused."""

import io
import zipfile
from datetime import timedelta

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from clients import actions, models, queries
from studio import models as studio_models
from studio.rules import Role
from tests import make_clients as make
from tests import papers
from tests.conftest import logged_in

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_nine(db):
    make.load_reference()
    with time_machine.travel(make.NOW, tick=True):
        yield


@pytest.fixture
def waits(instructor):
    client = make.client(email="ruvena@mail.example")
    client.usual_instructor = instructor
    client.save()
    make.signed_form(client, {"S6": ["yes"], "H09": ["yes"], "H09.conditions": ["C01"]})
    return client


@pytest.fixture
def letter(waits, desk):
    pages = [papers.photograph(300, 400), papers.photograph(300, 401)]
    return actions.hand_in(waits.pk, pages=pages, routed_to=None, by=desk, now=make.NOW)


@pytest.fixture
def paper_letter(waits, desk):
    return actions.hand_in(waits.pk, pages=[papers.pdf()], routed_to=None, by=desk, now=make.NOW)


def upload(content, name="letter.pdf", media_type="application/pdf"):
    return SimpleUploadedFile(name, content, media_type)


def send(browser, client, *files, **words):
    return browser.post(reverse("clients:hand-in", args=[client.pk]), {"file": list(files), **words})


def page(answer):
    return answer.content.decode()


# --- handing in -------------------------------------------------------------------------------------------------------
def test_the_desk_hands_a_paper_in_and_sees_that_it_is_kept_and_nothing_of_it(as_desk, waits, instructor):
    answer = send(as_desk, waits, upload(papers.pdf()), routed_to=instructor.pk)
    assert answer.status_code == 302 and answer.url == reverse("clients:card", args=[waits.pk])
    card = page(as_desk.get(answer.url))
    assert "It changes nothing until a teacher has read it." in card
    assert "came, not read yet" in card and instructor.name in card
    letter = models.Letter.objects.get()
    for route, key in (("letter", letter.pk), ("letter-file", letter.file_id), ("letters", waits.pk)):
        assert as_desk.get(reverse(f"clients:{route}", args=[key])).status_code == 403


def test_several_photographs_are_one_letter_in_their_order(as_instructor, waits):
    pages = [upload(papers.photograph(60, 40 + n), f"{n}.jpg", "image/jpeg") for n in range(3)]
    assert send(as_instructor, waits, *pages).status_code == 302
    letter = models.Letter.objects.get()
    assert list(letter.file.further_pages.order_by("page").values_list("page", flat=True)) == [2, 3]


def test_a_photograph_taken_on_the_spot_is_a_letter_too(as_instructor, waits):
    photo = upload(papers.photograph(60, 40), "image.jpg", "image/jpeg")
    answer = as_instructor.post(reverse("clients:hand-in", args=[waits.pk]), {"photo": photo})
    assert answer.status_code == 302 and models.Letter.objects.count() == 1


@pytest.mark.parametrize("name", ["letter.pdf", "../../../etc/letter.pdf", "letter\x00.pdf", "a" * 300 + ".pdf"])
def test_what_a_file_is_called_is_neither_believed_nor_kept(as_desk, waits, name):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr("inside.txt", "hello")
    answer = send(as_desk, waits, upload(made.getvalue(), name))
    assert answer.status_code == 409 and "not a PDF, JPEG or PNG" in page(answer)
    assert 'aria-invalid="true"' in page(answer)
    assert send(as_desk, waits, upload(papers.pdf(), name)).status_code == 302
    kept = models.StoredFile.objects.get()
    assert name not in [str(getattr(kept, field.attname)) for field in kept._meta.fields]


def test_nothing_chosen_and_too_much_at_once_are_refused_with_a_word(as_desk, waits):
    answer = send(as_desk, waits)
    assert answer.status_code == 409 and "Choose the file" in page(answer)
    many = [upload(papers.photograph(20, 20), f"{n}.jpg", "image/jpeg") for n in range(21)]
    answer = send(as_desk, waits, *many)
    assert answer.status_code == 409 and "20 pages at most" in page(answer)
    answer = send(as_desk, waits, upload(b"%PDF-" + bytes(10 * 1024 * 1024)))
    assert answer.status_code == 409 and "more than 10 MB" in page(answer)
    huge = [upload(bytes(9_000_000), f"{n}.pdf") for n in range(2)]
    assert send(as_desk, waits, *huge).status_code == 413
    assert not models.Letter.objects.exists()


# --- reading ----------------------------------------------------------------------------------------------------------
def test_a_letter_that_waits_stands_on_its_teachers_floor_and_on_nobody_elses(as_instructor, letter, waits):
    panel = reverse("clients:letters-panel")
    assert waits.name in page(as_instructor.get(panel))
    other = make.person(Role.INSTRUCTOR)
    assert waits.name not in page(logged_in(other).get(panel))


def test_a_page_of_a_letter_is_served_for_one_look_only(as_instructor, letter, paper_letter):
    picture = as_instructor.get(reverse("clients:letter-file", args=[letter.file_id]))
    assert (picture["Content-Type"], picture["Cache-Control"]) == ("image/jpeg", "no-store")
    assert picture["X-Content-Type-Options"] == "nosniff"
    assert picture["Content-Security-Policy"] == "sandbox; default-src 'none'; frame-ancestors 'none'"
    assert picture["Content-Disposition"] == 'inline; filename="letter-2026-03-16-1.jpg"'
    pdf = as_instructor.get(reverse("clients:letter-file", args=[paper_letter.file_id]))
    assert pdf["Content-Disposition"] == 'attachment; filename="letter-2026-03-16-1.pdf"'
    assert pdf.content == papers.pdf()
    assert studio_models.AuditEntry.objects.filter(verb="read_file").count() == 2


def test_the_owner_says_why_first_and_then_sees_the_pages_too(as_owner, letter):
    address = reverse("clients:letter", args=[letter.pk])
    picture = reverse("clients:letter-file", args=[letter.file_id])
    assert "Say why you need to look" in page(as_owner.get(address))
    assert as_owner.get(picture).status_code == 409
    assert picture in page(as_owner.post(address, {"why": "Henrike is away"}))
    assert as_owner.get(picture).status_code == 200


def terms(letter, **words):
    given = {"clinician": "Ondine Marsh", "profession": "physician", "dated": "2026-03-10"}
    asks = actions.read_letter(letter.pk, by=letter.routed_to, now=make.NOW).asks
    return {**given, "answers": [one.rule_id for one in asks], **words}


def test_terms_are_read_back_first_and_confirmed_only_as_they_were_read(as_instructor, letter, waits):
    address, told = reverse("clients:letter-confirm", args=[letter.pk]), terms(letter, forbids=["balance"])
    answer = as_instructor.post(address, told)
    assert answer.status_code == 200 and "What confirming does" in page(answer)
    assert "Balance or fall height: left out." in page(answer)
    assert "not yet reviewed by a licensed professional" in page(answer)
    seen = answer.context["form"].data["seen"]
    changed = as_instructor.post(address, {**told, "forbids": ["rolling", "prone"], "seen": seen})
    assert changed.status_code == 200 and models.Letter.objects.get().state == "unread"
    done = as_instructor.post(address, {**told, "seen": seen})
    assert done.status_code == 302 and models.Letter.objects.get().state == "confirmed"
    assert waits.screenings.get(replaced_at=None).outcome == "clear_limited"
    again = as_instructor.post(address, {**told, "seen": seen, "why": "once more"})
    assert again.status_code == 409 and "has put it into terms already" in page(again)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"clinician": ""}, "Only a letter that is signed by somebody named"),
        ({"dated": "2026-03-17"}, "still to come"),
        ({"dated": "2026-02-30"}, "There is no such day"),
        ({"until": "2025-01-01"}, "It would end before it begins"),
        ({"allows": ["rolling"], "forbids": ["rolling"]}, "Which does the letter say?"),
        ({"answers": ["leaf 99"]}, "leaf 99 is not one of the available choices"),
    ],
)
def test_what_cannot_be_is_asked_back_and_what_was_typed_stays(as_instructor, letter, words, says):
    told = terms(letter, words="keep the neck long", **words)
    answer = as_instructor.post(reverse("clients:letter-confirm", args=[letter.pk]), told)
    assert answer.status_code == 409
    assert says in page(answer) and "keep the neck long" in page(answer)


def test_a_letter_is_set_aside_and_another_ended_from_the_page(as_instructor, letter, paper_letter, waits):
    address = reverse("clients:letter-aside", args=[paper_letter.pk])
    assert as_instructor.post(address, {"because": ""}).status_code == 409
    assert as_instructor.post(address, {"because": "the same twice"}).status_code == 302
    confirm = reverse("clients:letter-confirm", args=[letter.pk])
    told = terms(letter, forbids=["balance"])
    seen = as_instructor.post(confirm, told).context["form"].data["seen"]
    as_instructor.post(confirm, {**told, "seen": seen})
    end = reverse("clients:letter-end", args=[letter.pk])
    assert as_instructor.post(end, {"why": "the surgeon says it is over"}).status_code == 302
    assert waits.screenings.get(replaced_at=None).outcome == "refer"
    listed = page(as_instructor.get(reverse("clients:letters", args=[waits.pk])))
    assert "set aside" in listed and "ended" in listed


def test_a_letter_past_its_date_no_longer_stands_as_in_force(as_instructor, letter, waits):
    confirm = reverse("clients:letter-confirm", args=[letter.pk])
    told = terms(letter, forbids=["balance"], until="2026-03-20")
    seen = as_instructor.post(confirm, told).context["form"].data["seen"]
    as_instructor.post(confirm, {**told, "seen": seen})
    listed, shown = reverse("clients:letters", args=[waits.pk]), reverse("clients:letter", args=[letter.pk])
    over = "Past its date: only what it leaves out still counts."
    for days, mark, is_over in ((4, "in force", False), (5, "past its date", True)):
        with time_machine.travel(make.NOW + timedelta(days=days)):
            browser = logged_in(letter.routed_to)
            assert mark in page(browser.get(listed))
            assert (over in page(browser.post(shown, {"why": "preparing a lesson"}))) is is_over


# --- chasing ----------------------------------------------------------------------------------------------------------
def test_the_desks_list_names_who_and_since_when_and_never_why(as_desk, waits):
    shown = page(as_desk.get(reverse("clients:papers")))
    assert waits.name in shown and "16 March" in shown
    (asked,) = actions.read_request(
        queries.open_request(waits.pk), by=make.person(Role.INSTRUCTOR), now=make.NOW, why="test"
    ).asks[:1]
    for word in (asked, "heart", "racing", "S6"):
        assert word not in shown


def test_the_desk_lays_a_letter_before_another_teacher_and_chooses_whom(as_desk, letter, waits):
    other, address = make.person(Role.INSTRUCTOR), reverse("clients:letter-route", args=[letter.pk])
    assert '<option value="">Choose a teacher</option>' in page(as_desk.get(reverse("clients:papers")))
    assert "Choose somebody who" in page(as_desk.post(address, {"routed_to": ""}, follow=True))
    assert "the teacher is told" in page(as_desk.post(address, {"routed_to": other.pk}, follow=True))
    assert models.Letter.objects.get().routed_to == other


def test_the_desk_reminds_and_is_told_why_it_cannot(as_desk, waits):
    address = reverse("clients:paper-remind", args=[queries.open_request(waits.pk)])
    assert "has not agreed to messages" in page(as_desk.post(address, follow=True))
    actions.give_consent(waits.pk, kind="messages", given_by=waits.name, by=None, now=make.NOW)
    assert "The reminder is on its way" in page(as_desk.post(address, follow=True))
    assert studio_models.Notice.objects.filter(kind="letter_wanted").count() == 1


def test_the_paper_for_the_clinician_is_a_teachers_to_print(as_instructor, as_desk, as_owner, waits, letter):
    key = queries.open_request(waits.pk)
    look, printing = (reverse(f"clients:paper-{one}", args=[key]) for one in ("request", "print"))
    assert as_desk.get(look).status_code == as_desk.post(printing).status_code == 403
    assert "What is asked, and nothing more" in page(as_instructor.get(look))
    answer = as_instructor.post(printing)
    assert answer["Content-Type"] == "application/pdf" and answer.content.startswith(b"%PDF")
    assert waits.name not in answer["Content-Disposition"]
    assert as_owner.post(printing).status_code == 409
    assert as_owner.post(printing, {"why": "she asked at the door"}).status_code == 200


def test_a_teachers_list_shows_why_of_her_own_and_an_owners_does_not(as_instructor, as_owner, waits, letter):
    asks = actions.read_request(queries.open_request(waits.pk), by=letter.routed_to, now=make.NOW).asks
    floor = reverse("clients:papers-floor")
    assert asks[0][:40] in page(as_instructor.get(floor))
    owners = page(as_owner.get(floor))
    assert waits.name in owners and asks[0][:40] not in owners and "opens with a reason" in owners


# --- the photograph ---------------------------------------------------------------------------------------------------
def test_a_photograph_is_put_on_the_card_seen_by_the_staff_and_taken_away(as_desk, as_instructor, waits):
    change, shown, remove = (
        reverse(f"clients:{one}", args=[waits.pk]) for one in ("photograph-change", "photograph", "photograph-remove")
    )
    picture = papers.photograph(600, 400)
    refused = as_desk.post(change, {"photo": upload(picture, "me.jpg", "image/jpeg")})
    assert refused.status_code == 409 and "not agreed to a photograph" in page(refused)
    actions.give_consent(waits.pk, kind="photographs", given_by=waits.name, by=None, now=make.NOW)
    assert as_desk.post(change, {}).status_code == 409
    assert as_desk.post(change, {"photo": upload(papers.pdf())}).status_code == 409
    assert as_desk.post(change, {"photo": upload(picture, "me.jpg", "image/jpeg")}).status_code == 302
    seen = as_instructor.get(shown)
    assert (seen["Content-Type"], seen["Cache-Control"]) == ("image/jpeg", "no-store")
    assert shown in page(as_desk.get(reverse("clients:card", args=[waits.pk])))
    assert as_desk.post(remove).status_code == 302 and as_instructor.get(shown).status_code == 404
