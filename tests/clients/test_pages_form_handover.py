"""A tablet handed over is kept to one form; the card asks back, and what is typed in or printed has its own pages."""

from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from clients import actions, models
from studio import models as studio_models
from studio.rules import Role
from tests import make_clients as make
from tests.conftest import logged_in
from tests.make import PASSWORD
from tests.studio.test_access import routes

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def ruvena(db):
    return make.client(now=timezone.now(), email="ruvena@mail.example")


def at(name, *args):
    return reverse(f"clients:{name}", args=args)


def text(response):
    return response.content.decode()


@pytest.fixture
def tablet(as_desk, ruvena):
    """A tablet that the desk has just handed over; `form` is the address it is kept to."""
    as_desk.form = as_desk.post(at("form-here", ruvena.pk)).headers["Location"]
    return as_desk


# --- the tablet -------------------------------------------------------------------------------------------------------
def test_every_other_address_of_the_house_answers_with_the_way_back_and_nothing_else(tablet):
    for route in routes():
        if route.name == "studio:take-back":
            continue
        answer = tablet.get(route.address)
        assert answer.status_code == 403, route.name
        if route.address.startswith("/api/"):
            assert answer.json() == {"detail": "This tablet is kept to one form."}
        else:
            assert "kept to one form" in text(answer) and answer.headers["Cache-Control"] == "no-store"


def test_the_form_itself_opens_and_can_be_signed_on_the_tablet(tablet, ruvena):
    assert tablet.get(tablet.form).status_code == 200
    token = tablet.form.rstrip("/").rpartition("/")[2]
    make.answer(token, now=timezone.now())
    answer = tablet.post(at("form-card", token), {"name": "Ruvena", "signed_as": "client"}, follow=True)
    assert "Please hand the tablet back" in text(answer) and reverse("studio:take-back") in text(answer)


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_nothing_is_written_from_a_kept_tablet_beside_its_form(tablet, ruvena, method):
    before = models.Client.objects.count()
    answer = getattr(tablet, method)(reverse("clients:add"), {"name": "Somebody"})
    assert answer.status_code in (302, 403) and models.Client.objects.count() == before


def test_another_clients_form_does_not_open_on_it(tablet):
    other = actions.make_form_link(make.client("Odalys Venn").pk, by=None, now=timezone.now()).token
    answer = tablet.get(at("form", other))
    assert answer.status_code == 403 and "Odalys" not in text(answer)


def test_a_part_of_a_page_asked_for_by_script_leads_to_the_way_back(tablet):
    answer = tablet.get("/desk/", headers={"HX-Request": "true"})
    assert (answer.status_code, answer.headers["HX-Redirect"]) == (403, reverse("studio:take-back"))


def test_a_member_of_staff_takes_it_back_with_her_password_and_the_link_opens_nothing_any_more(tablet, ruvena, desk):
    words = {"username": desk.email, "password": PASSWORD}
    answer = tablet.post(reverse("studio:take-back"), words, follow=True)
    assert "The tablet is back" in text(answer) and answer.redirect_chain[-1][0] == at("card", ruvena.pk)
    assert tablet.get(at("list")).status_code == 200
    assert tablet.get(tablet.form).status_code == 410
    assert studio_models.AuditEntry.objects.get(verb="close_form_link").person == desk


def test_a_wrong_password_leaves_it_kept_and_the_sixth_is_not_even_tried(tablet, desk):
    words = {"username": desk.email, "password": "not this one"}
    for _ in range(4):
        assert "stays kept" in text(tablet.post(reverse("studio:take-back"), words))
    assert tablet.post(reverse("studio:take-back"), words).status_code == 429
    answer = tablet.post(reverse("studio:take-back"), words | {"password": PASSWORD})
    assert answer.status_code == 429 and tablet.get(at("list")).status_code == 403


def test_signing_in_by_the_ordinary_door_does_not_open_it(tablet, desk):
    tablet.post(reverse("studio:login"), {"username": desk.email, "password": PASSWORD})
    assert tablet.get(at("list")).status_code == 403


def test_it_stays_kept_when_the_browser_is_closed_and_opened_again(tablet):
    again = Client()
    again.cookies = tablet.cookies
    assert tablet.cookies[next(iter(tablet.cookies))]["max-age"], "the session's cookie outlives the window"
    assert again.get(at("list")).status_code == 403 and again.get(tablet.form).status_code == 200


def test_the_way_back_of_a_free_browser_is_a_plain_sign_in(client, desk):
    page = client.get(reverse("studio:take-back"))
    assert page.status_code == 200 and "not kept to any form" in text(page)
    answer = client.post(reverse("studio:take-back"), {"username": desk.email, "password": PASSWORD})
    assert answer.headers["Location"] == reverse("studio:home")


def test_whoever_takes_it_back_is_not_sent_to_an_address_of_somebody_elses_choice(tablet, desk):
    words = {"username": desk.email, "password": PASSWORD, "next": "https://elsewhere.example/"}
    answer = tablet.post(reverse("studio:take-back") + "?next=//elsewhere.example/", words)
    assert answer.headers["Location"].startswith("/desk/form-links/")


# --- as told ----------------------------------------------------------------------------------------------------------
def test_a_teacher_types_a_form_in_from_the_card_and_each_page_says_so(as_instructor, instructor, ruvena):
    page = as_instructor.get(at("type-in", ruvena.pk))
    assert "kept with your name and the time" in text(page), "without care she says why"
    assert as_instructor.post(at("type-in", ruvena.pk), {"why": ""}).status_code == 422
    door = as_instructor.post(at("type-in", ruvena.pk), {"why": "paper form"}, follow=True)
    assert "Henrike Aldous types this in" in text(door)
    token = door.redirect_chain[-1][0].rstrip("/").rpartition("/")[2]
    make.answer(token, now=timezone.now(), by=instructor)
    card = text(as_instructor.get(at("form-card", token)))
    assert "Day written on the paper" in card and "Sign as told" in card and "Who signs?" not in card
    bad = as_instructor.post(at("form-card", token), {"name": "Ruvena", "on_paper_of": "2999-01-01"})
    assert bad.status_code == 422 and "still to come" in text(bad)
    done = as_instructor.post(at("form-card", token), {"name": "Ruvena"}, follow=True)
    assert "Signed as told" in text(done)
    assert models.HealthForm.objects.get().told_to == instructor


def test_nobody_else_opens_what_is_typed_in(client, as_instructor, as_owner, ruvena):
    door = as_instructor.post(at("type-in", ruvena.pk), {"why": "paper form"})
    for other in (client, as_owner):
        answer = other.get(door.headers["Location"])
        assert answer.status_code == 403 and "opens for one person only" in text(answer)


def test_the_desk_is_not_offered_to_type_in(as_desk, ruvena):
    assert at("type-in", ruvena.pk) not in text(as_desk.get(at("card", ruvena.pk)))
    assert as_desk.get(at("type-in", ruvena.pk)).status_code == 403


# --- the re-check -----------------------------------------------------------------------------------------------------
def test_a_re_check_takes_two_screens_and_a_name(client, as_desk, ruvena):
    make.signed_form(ruvena, now=timezone.now())
    assert "Re-check on this tablet" in text(as_desk.get(at("card", ruvena.pk)))
    token = actions.make_form_link(ruvena.pk, by=None, now=timezone.now(), kind="quick").token
    assert "about a minute" in text(client.get(at("form", token)))
    flags = {f"F{number}": "no" for number in (18, 19, 20, 21, 22)}
    second = client.post(at("form-screen", token, "safety"), flags)
    assert second.headers["Location"] == at("form-screen", token, "recheck")
    card = client.post(second.headers["Location"], {"Q.changed": "none", "H17": "none"})
    assert card.headers["Location"] == at("form-card", token)
    assert "Nothing has changed since" in text(client.get(card.headers["Location"]))
    client.post(card.headers["Location"], {"name": "Ruvena", "signed_as": "client"})
    assert [form.kind for form in models.HealthForm.objects.order_by("version")] == ["full", "quick"]


def test_a_change_said_in_a_re_check_opens_the_whole_form(client, ruvena):
    make.signed_form(ruvena, now=timezone.now())
    token = actions.make_form_link(ruvena.pk, by=None, now=timezone.now(), kind="quick").token
    client.post(at("form-screen", token, "safety"), {f"F{number}": "no" for number in (18, 19, 20, 21, 22)})
    answer = client.post(at("form-screen", token, "recheck"), {"Q.changed": "fall", "H17": "none"}, follow=True)
    assert answer.redirect_chain[-1][0] == at("form-screen", token, "H01")
    assert "the whole form" in text(answer)


def test_without_a_whole_form_no_re_check_is_offered_or_sent(as_desk, ruvena):
    assert "Re-check on this tablet" not in text(as_desk.get(at("card", ruvena.pk)))
    for name in ("send-form", "form-here"):
        answer = as_desk.post(at(name, ruvena.pk), {"kind": "quick"}, follow=True)
        assert "the whole form comes first" in text(answer)
    assert not models.FormLink.objects.exists()


# --- asked back -------------------------------------------------------------------------------------------------------
@pytest.fixture
def token(ruvena):
    return actions.make_form_link(ruvena.pk, by=None, now=timezone.now()).token


def test_a_stale_page_shows_what_was_written_meanwhile_and_keeps_what_was_just_told(client, token):
    for told in ("no", "yes"):
        answer = client.post(at("form-screen", token, "H02"), {"H02": told, "saves": "0"})
    page = text(answer)
    assert answer.status_code == 409 and "There it says: <b><bdi>No</bdi></b>" in page
    assert 'value="yes" checked' in page and 'name="saves" value="1"' in page
    assert client.post(at("form-screen", token, "H02"), {"H02": "yes", "saves": "1"}).status_code == 302


@pytest.mark.parametrize("saves", ["", "-1", "٣", "9" * 400, "1e3", "null"])
def test_a_version_that_is_none_is_no_version(client, token, saves):
    assert client.post(at("form-screen", token, "H02"), {"H02": "no", "saves": saves}).status_code == 302


def test_the_card_asks_back_what_does_not_go_together_with_a_way_to_each_place(client, token):
    told = {"H10": ["no"], "H13": ["birth"], "H13.birth": ["2026-01-10"], "H13.way": ["caesarean"]}
    make.answer(token, told, now=timezone.now())
    answer = client.post(at("form-card", token), {"name": "Ruvena", "signed_as": "client"})
    page = text(answer)
    assert answer.status_code == 422 and "Not signed yet" in page and "caesarean, which is one" in page
    for screen_id in ("H10", "H13.birth"):
        assert f"{at('form-screen', token, screen_id)}?card=1" in page
    assert not models.Screening.objects.exists()


def test_somebody_who_came_from_the_card_goes_back_to_it(client, token):
    make.answer(token, now=timezone.now())
    page = text(client.get(at("form-screen", token, "H06") + "?card=1"))
    assert 'name="card" value="1"' in page and "Keep it" in page
    answer = client.post(at("form-screen", token, "H06"), {"H06": "no", "card": "1"})
    assert answer.headers["Location"] == at("form-card", token)
    opened = client.post(at("form-screen", token, "H06"), {"H06": "yes", "card": "1"})
    assert opened.headers["Location"] == at("form-screen", token, "H06.more"), "what it opens comes first"


def test_a_card_that_is_not_what_was_read_is_shown_once_more(client, token):
    make.answer(token, now=timezone.now())
    opened = actions.open_form(token, now=timezone.now())
    signed = {"name": "Ruvena", "signed_as": "client", "saves": opened.saves - 1, "rules_id": opened.rules_id}
    answer = client.post(at("form-card", token), signed)
    assert answer.status_code == 422 and "Please read it once more" in text(answer)
    assert f'name="saves" value="{opened.saves}"' in text(answer)
    assert client.post(at("form-card", token), signed | {"saves": opened.saves}).status_code == 302


def test_the_second_tap_on_sign_is_thanked_and_signs_nothing(client, token):
    make.answer(token, now=timezone.now())
    for _ in range(2):
        answer = client.post(at("form-card", token), {"name": "Ruvena", "signed_as": "client"})
        assert answer.headers["Location"] == at("form-signed", token)
    assert models.HealthForm.objects.count() == models.Screening.objects.count() == 1


def test_back_after_a_refused_signature_finds_every_answer(client, token):
    make.answer(token, {"H18": ["to lift my grandchild"]}, now=timezone.now())
    assert client.post(at("form-card", token), {"name": "", "signed_as": "client"}).status_code == 422
    assert client.get(at("form-screen", token, "H18")).status_code == 200
    assert "to lift my grandchild" in text(client.get(at("form-card", token)))
    assert client.post(at("form-card", token), {"name": "Ruvena", "signed_as": "client"}).status_code == 302


# --- agreements, and what is ahead ------------------------------------------------------------------------------------
def test_three_agreements_are_asked_each_for_itself_and_none_is_chosen_beforehand(client, token, ruvena):
    make.answer(token, now=timezone.now())
    page = text(client.get(at("form-card", token)))
    section = page.split('id="agreements"')[1]
    for kind in ("touch", "photographs", "messages"):
        assert section.count(f'name="{kind}"') == 2
    assert "checked" not in section
    client.post(at("form-card", token), {"name": "Ruvena", "signed_as": "client", "photographs": "yes"})
    assert [consent.kind for consent in models.Consent.objects.all()] == ["photographs"]


def test_a_pregnant_client_reads_what_twelve_weeks_later_means(client, token):
    make.answer(token, {"H13": ["pregnant"], "H13.due": [""], "H13.weeks": ["12"]}, now=timezone.now())
    page = text(client.get(at("form-card", token)))
    assert "Today you are 12 weeks along" in page and "it will be 24 weeks" in page
    assert "We look again on" in page and "when week 14 is complete" in page


# --- versions and paper -----------------------------------------------------------------------------------------------
@pytest.fixture
def signed_twice(ruvena):
    make.signed_form(ruvena, {"H18": ["to dance"]}, now=timezone.now())
    make.signed_form(ruvena, {"H18": ["to carry water"]}, now=timezone.now(), signature="R. Tarnelow")
    return ruvena


def test_whoever_has_no_care_says_why_before_the_versions_open(as_owner, signed_twice):
    page = as_owner.get(at("versions", signed_twice.pk))
    assert "Say why" in text(page) and "R. Tarnelow" not in text(page)
    assert f'action="{at("versions", signed_twice.pk)}"' in text(page)
    opened = text(as_owner.post(at("versions", signed_twice.pk), {"why": "a question of hers"}))
    assert "R. Tarnelow" in opened and 'value="a question of hers"' in opened
    differs = {"why": "a question of hers", "older": 1, "newer": 2}
    page = text(as_owner.post(at("versions", signed_twice.pk), differs))
    assert "to dance" in page and "to carry water" in page


@pytest.mark.parametrize("pair", [{"older": 1, "newer": 1}, {"older": 1, "newer": 99}, {"older": "x", "newer": ""}])
def test_two_versions_that_are_not_there_compare_nothing(as_owner, signed_twice, pair):
    answer = as_owner.post(at("versions", signed_twice.pk), {"why": "a look"} | pair)
    assert answer.status_code in (200, 422, 409) and "to dance" not in text(answer)


def words_of(pdf):
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


def test_a_signed_version_is_printed_with_its_answers_and_the_cautions(as_owner, signed_twice):
    address = reverse("clients:version-paper", args=[signed_twice.pk, 1])
    assert as_owner.post(address).status_code == 409, "no reason, no paper"
    answer = as_owner.post(address, {"why": "she asked for it"})
    assert answer.headers["Content-Type"] == "application/pdf" and "no-store" in answer.headers["Cache-Control"]
    words = words_of(answer.content)
    assert "to dance" in words and "It does not diagnose" in words and "to carry water" not in words
    assert "Ruvena" not in answer.headers["Content-Disposition"]
    assert studio_models.AuditEntry.objects.get(verb="read_version").why == "she asked for it"


def test_an_empty_form_has_every_question_its_boxes_and_the_cautions(as_desk):
    answer = as_desk.get(reverse("clients:blank-form"))
    words = " ".join(words_of(answer.content).split())
    assert answer.status_code == 200 and answer.headers["Content-Type"] == "application/pdf"
    for said in (
        "Has a doctor spoken of thin bones",
        "Chest pain now or at rest",
        "It does not diagnose",
        "Ankle sprain",
    ):
        assert said in words
    assert "not been reviewed by a licensed professional" in words


def test_the_paper_is_for_the_house_only(client, ruvena):
    assert client.get(reverse("clients:blank-form")).status_code == 302
    assert logged_in(make.person(Role.DESK)).post(
        reverse("clients:version-paper", args=[ruvena.pk, 1]), {"why": "x"}
    ).status_code == 403  # fmt: skip


def test_papers_are_set_in_the_typeface_of_the_screens(as_desk):
    pages = PdfReader(BytesIO(as_desk.get(reverse("clients:blank-form")).content)).pages
    fonts = {str(font.get_object()["/BaseFont"]) for page in pages for font in page["/Resources"]["/Font"].values()}
    for style in ("Regular", "Bold"):
        assert any(name.endswith(f"AtkinsonHyperlegibleNext-{style}") for name in fonts)
