"""Pages of the front door: home by role, the office, sent notices, and pages that say kindly what went wrong."""

import json
import re
from uuid import uuid4

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from studio import models
from tests import make
from tests.conftest import logged_in
from tests.make import NOW

State = models.Notice.State


@pytest.fixture
def house(db) -> models.Studio:
    return make.studio("Europe/Lisbon", name="Weir Street")


def test_the_health_address_answers_without_a_login(client, db):
    assert client.get("/healthz").content == b"ok\n"


@pytest.mark.parametrize(
    ("fixture", "drawers"), [("as_desk", ["Desk"]), ("as_instructor", ["Floor"]), ("as_owner", ["Office"])]
)
def test_home_opens_the_drawers_of_ones_roles_only(request, house, fixture, drawers):
    page = request.getfixturevalue(fixture).get("/")
    assert [drawer["name"] for drawer in page.context["drawers"]] == drawers


def test_somebody_of_three_roles_has_three_drawers(as_owner, owner, house):
    models.Person.objects.filter(pk=owner.pk).update(roles=["desk", "instructor", "owner"])
    page = as_owner.get("/")
    assert [drawer["name"] for drawer in page.context["drawers"]] == ["Desk", "Floor", "Office"]
    assert page.content.count(b'class="drawer"') == 3


def test_home_greets_by_the_clock_of_the_first_location(desk, house):
    models.Studio.objects.update(time_zone="Pacific/Auckland")
    with time_machine.travel(NOW.replace(hour=6), tick=False):
        page = logged_in(desk).get("/").content.decode()
    assert "Good evening, Wilma." in page
    assert "Wednesday 12 March, 19:00" in page
    assert "Weir Street is open until 21:00." in page


def test_the_office_counts_the_letters_that_need_a_look(as_owner, house):
    make.notice(state=State.UNSURE)
    make.notice(state=State.FAILED)
    page = as_owner.get(reverse("studio:office")).content.decode()
    assert "letters need a look" in page and reverse("studio:sent") in page


def test_the_list_of_sent_notices_shows_no_words_of_the_letters(desk, house):
    with time_machine.travel(NOW, tick=False):
        make.notice(
            state=State.FAILED,
            trouble="The mail server refused it: 550 No such mailbox",
            values={"name": "Zuzanka Q. Private"},
        )
        make.notice(state=State.SENT, sent_at=NOW, values={"name": "Zuzanka Q. Private"})
        page = logged_in(desk).get(reverse("studio:sent")).content.decode()
    assert "550 No such mailbox" in page and "12 Mar, 09:00" in page
    assert "Zuzanka" not in page


def test_the_desk_sends_a_failed_letter_again_from_its_list(as_desk, house):
    notice = make.notice(state=State.FAILED)
    page = as_desk.post(reverse("studio:send-again", args=[notice.pk]), follow=True)
    notice.refresh_from_db()
    assert (notice.state, page.status_code) == (State.WAITING, 200)


def test_a_second_tap_on_send_again_says_that_it_is_settled(as_desk, house):
    notice = make.notice(state=State.FAILED)
    as_desk.post(reverse("studio:send-again", args=[notice.pk]))
    page = as_desk.post(reverse("studio:send-again", args=[notice.pk]))
    assert page.status_code == 409
    assert b"Somebody has already settled this one." in page.content


# --- what goes wrong ------------------------------------------------------------------------------------------------


def test_unknown_ids_are_kind_404s(as_owner, house):
    for name, key in [("studio:person", 999), ("studio:hours", 999), ("scheduling:leave", 10**30)]:
        assert as_owner.get(reverse(name, args=[key])).status_code == 404
    assert as_owner.post(reverse("studio:send-again", args=[uuid4()])).status_code == 404
    assert b"Nothing hangs on this hook." in as_owner.get("/nowhere/").content


def test_a_page_of_another_role_is_a_kind_403(as_desk, house):
    page = as_desk.get(reverse("studio:staff"))
    assert page.status_code == 403
    assert b"This drawer is not yours to open." in page.content


@pytest.mark.parametrize("path", ["/api/schema.json", "/api/nowhere/"])
def test_the_api_answers_errors_in_json(client, db, path):
    answer = client.get(path)
    assert answer.status_code in (401, 404)
    assert set(json.loads(answer.content)) == {"detail"}


def test_a_form_without_its_token_is_refused_in_words(db):
    strict = Client(enforce_csrf_checks=True)
    make.person()
    page = strict.post(reverse("studio:login"), {"username": "a@b.example", "password": "x"})
    assert page.status_code == 403
    assert b"This page lay open too long." in page.content


def test_a_paste_of_ten_megabytes_is_refused_in_words(client, db):
    page = client.post(reverse("studio:password-reset"), {"email": "x" * 10_000_000})
    assert page.status_code == 413
    assert b"more than the drawer holds" in page.content


@pytest.mark.parametrize("text", ["\x00", "a\x00b@c.example", "🦭@🦭.example", "\u202eevil@c.example", "x" * 5000])
def test_odd_characters_at_the_door_are_no_error(client, db, text):
    make.person()
    assert client.post(reverse("studio:login"), {"username": text, "password": text}).status_code in (200, 429)
    assert client.post(reverse("studio:password-reset"), {"email": text}).status_code in (200, 302)
    assert client.get(reverse("studio:invitation", args=["token"]), {"q": text}).status_code == 410


def test_a_bad_link_for_a_new_password_opens_nothing(client, db):
    for uid, token in [("MQ", "nonsense"), ("!!", "x"), ("é", "set-password")]:
        page = client.get(reverse("studio:password-reset-confirm", args=[uid, token]))
        assert b"This link is used up." in page.content


def test_nothing_of_a_page_stays_in_the_browsers_cache(as_owner, house):
    assert as_owner.get(reverse("studio:staff"))["Cache-Control"] == "no-store"


PAGES = ["home", "office", "staff", "invite", "house", "name-house", "add-studio", "sent"]


@pytest.mark.parametrize("name", PAGES)
def test_no_page_carries_a_script_or_a_style_of_its_own(as_owner, owner, house, name):
    models.Person.objects.filter(pk=owner.pk).update(roles=["desk", "instructor", "owner"])
    page = as_owner.get(reverse(f"studio:{name}"))
    assert page.status_code == 200
    text = page.content.decode()
    assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=|javascript:", text)
    assert "default-src 'none'" in page["Content-Security-Policy"]


@pytest.mark.parametrize("name", ["home", "office", "staff", "sent", "house"])
def test_a_page_costs_the_same_queries_with_fifty_people_and_letters(
    as_owner, house, name, django_assert_max_num_queries
):
    as_owner.get(reverse(f"studio:{name}"))
    for _ in range(50):
        make.person()
        make.notice(state=State.FAILED)
    with django_assert_max_num_queries(10):
        as_owner.get(reverse(f"studio:{name}"))
