"""The health form as a client meets it: by a private link, one screen at a time, without a script."""

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from clients import actions, models
from tests import make_clients as make

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def reference(db):
    make.load_reference()


@pytest.fixture
def ruvena(db):
    return make.client(now=timezone.now())


@pytest.fixture
def token(ruvena):
    return actions.make_form_link(ruvena.pk, by=None, now=timezone.now()).token


def at(name, *args):
    return reverse(f"clients:{name}", args=args)


def text(response):
    return response.content.decode()


def fields_of(page):
    """What a browser would send back unchanged: each field's name with its filled, ticked or first offered value."""
    posted = {}
    for tag in re.findall(r"<input[^>]+>", page):
        name, kind = _of(tag, "name"), _of(tag, "type")
        if not name or name == "csrfmiddlewaretoken":
            continue
        if kind in ("radio", "checkbox"):
            quiet = _of(tag, "value") in ("no", "none", "usual", "light_moderate", "client")
            if "checked" in tag or quiet or name not in posted:
                posted[name] = _of(tag, "value")
        else:
            posted[name] = _of(tag, "value") or ("0" if "numeric" in tag else "")
    return posted


def _of(tag, attribute):
    found = re.search(rf'\b{attribute}="([^"]*)"', tag)
    return found[1] if found else ""


def walk(client, token, told=None):
    """Follow the form as a browser does until it arrives at the card; the addresses of its screens."""
    opened = client.get(at("form", token))
    address, seen = re.search(r'class="btn first wide" href="([^"]+)"', text(opened))[1], []
    while "/ask/" in address:
        page = client.get(address)
        assert page.status_code == 200
        posted = fields_of(text(page)) | {k: v for k, v in (told or {}).items() if f'name="{k}"' in text(page)}
        answer = client.post(address, posted)
        assert answer.status_code == 302, text(answer)
        seen.append(address)
        address = answer.headers["Location"]
    return seen, address


def test_the_whole_form_is_filled_in_read_back_and_signed(client, token, ruvena):
    seen, card = walk(client, token, {"H18": "to lift my grandchild"})
    assert len(seen) >= 19 and card == at("form-card", token)
    page = text(client.get(card))
    assert "to lift my grandchild" in page and "It does not diagnose" in page
    assert at("form-screen", token, "H18") in page
    signed = client.post(card, {"name": "Ruvena Tarnelow", "signed_as": "client"}, follow=True)
    assert "Thank you" in text(signed) and "to lift my grandchild" not in text(signed)
    assert models.Screening.objects.get(client=ruvena).outcome == "clear"


def test_every_screen_says_why_it_asks_and_how_far_one_is(client, token):
    page = text(client.get(at("form-screen", token, "H09")))
    assert "Why we ask:" in page and "<progress" in page and "<legend>" in page
    assert "Keep this and go on later" in page


def test_a_form_left_half_way_opens_where_it_was_left(client, token):
    client.post(at("form-screen", token, "H02"), {"H02": "no"})
    later = client.post(at("form-screen", token, "H03"), {"later": "1"}, follow=True)
    assert "It is kept." in text(later)
    door = text(client.get(at("form", token)))
    assert "Welcome back" in door and at("form-screen", token, "H03") in door
    assert "checked" in text(client.get(at("form-screen", token, "H02")))


def test_an_empty_answer_is_asked_for_beside_its_field_and_the_others_are_kept(client, token):
    answer = client.post(at("form-screen", token, "H01"), {"H01.days": "2", "H01.minutes": "half an hour"})
    page = text(answer)
    assert answer.status_code == 422
    assert 'id="H01.minutes_error"' in page and 'aria-invalid="true"' in page and 'href="#H01.minutes"' in page
    assert 'value="half an hour"' in page
    assert 'value="2"' in text(client.get(at("form-screen", token, "H01")))


@pytest.mark.parametrize("told", ["🌿 نورة <script>", "a\u0000b", "x" * 2000])
def test_own_words_of_any_kind_are_kept_and_shown_as_words(client, token, told):
    posted = {"H18.intensity": "light_moderate", "H18": told}
    assert client.post(at("form-screen", token, "H18"), posted).status_code == 302
    shown = text(client.get(at("form-screen", token, "H18")))
    assert "<script>" not in shown.split("<main")[1]
    assert told.replace("\u0000", "").replace("<", "&lt;").replace(">", "&gt;") in shown


def test_own_words_that_are_too_long_are_refused_beside_the_field(client, token):
    posted = {"H18.intensity": "light_moderate", "H18": "x" * 2001}
    answer = client.post(at("form-screen", token, "H18"), posted)
    assert answer.status_code == 422 and "keep it to" in text(answer)


def test_a_paste_of_ten_megabytes_is_refused_and_nothing_is_lost(client, token):
    client.post(at("form-screen", token, "H02"), {"H02": "no"})
    answer = client.post(
        at("form-screen", token, "H18"), "H18=" + "x" * 10_000_000, content_type="application/x-www-form-urlencoded"
    )
    assert answer.status_code in (400, 413)
    assert "checked" in text(client.get(at("form-screen", token, "H02")))


@pytest.mark.parametrize("day", ["2026-02-31", "31.5.2024", "9999-12-31", "1700-01-01", "yesterday"])
def test_a_wrong_date_is_said_beside_the_field(client, token, day):
    client.post(at("form-screen", token, "H13"), {"H13": "birth"})
    page = text(client.get(at("form", token)))
    address = re.search(r'class="btn first wide" href="([^"]+)"', page)[1]
    fields = fields_of(text(client.get(address)))
    assert "H13.birth" in fields
    answer = client.post(address, fields | {"H13.birth": day})
    assert answer.status_code == 422 and 'id="H13.birth_error"' in text(answer)


@pytest.mark.parametrize("name", ["form", "form-card", "form-later", "form-signed"])
def test_an_unknown_link_is_a_kind_404(client, name):
    answer = client.get(at(name, "no-such-token"))
    assert answer.status_code == 404 and "Ask the studio for a new link" in text(answer)


def test_an_expired_link_is_a_kind_410_on_reading_and_on_sending(client, ruvena):
    old = timezone.now() - timezone.timedelta(days=15)
    token = actions.make_form_link(ruvena.pk, by=None, now=old).token
    assert client.get(at("form", token)).status_code == 410
    answer = client.post(at("form-screen", token, "H02"), {"H02": "no"})
    assert answer.status_code == 410 and "run out" in text(answer)
    assert not models.HealthForm.objects.exists()


def test_a_replaced_link_is_closed(client, token, ruvena):
    actions.make_form_link(ruvena.pk, by=None, now=timezone.now())
    assert client.get(at("form", token)).status_code == 410


def test_a_second_tab_cannot_change_a_signed_form(client, token, ruvena):
    make.answer(token, now=timezone.now())
    client.post(at("form-card", token), {"name": "Ruvena", "signed_as": "client"})
    for answer in (
        client.post(at("form-screen", token, "H02"), {"H02": "yes"}),
        client.post(at("form-card", token), {"name": "Somebody", "signed_as": "client"}),
    ):
        assert answer.status_code == 410 and "This form is signed" in text(answer)
    assert models.HealthForm.objects.get().signed_name == "Ruvena"
    assert client.get(at("form-signed", token)).status_code == 200


def test_a_link_opens_only_its_own_clients_form(client, token):
    other = make.client("Dunmaro Oyelisk")
    actions.save_screen(token, screen_id="H02", posted={"H02": ["yes"]}, now=timezone.now())
    theirs = actions.make_form_link(other.pk, by=None, now=timezone.now()).token
    page = text(client.get(at("form-screen", theirs, "H02")))
    assert "checked" not in page and "Ruvena" not in page


def test_a_screen_that_is_not_asked_leads_back_to_the_form(client, token):
    assert client.get(at("form-screen", token, "H99")).headers["Location"] == at("form", token)
    assert client.post(at("form-screen", token, "H99"), {"H99": "yes"}).status_code == 404


def test_an_emergency_stops_everything_but_the_number(client, token):
    first = make.due(actions.open_form(token, now=timezone.now()))[0]
    posted = {field.id: "no" for field in first.fields} | {first.fields[0].id: "yes"}
    answer = client.post(at("form-screen", token, first.id), posted, follow=True)
    page = text(answer)
    assert "Please stop here" in page and 'href="tel:112"' in page
    assert "Go on" not in page and "<textarea" not in page
    for name in ("form", "form-card"):
        assert client.get(at(name, token)).headers["Location"] == at("form-screen", token, "emergency")


def test_a_card_with_an_empty_answer_names_it_and_is_not_signed(client, token):
    client.post(at("form-screen", token, "H02"), {"H02": "no"})
    answer = client.post(at("form-card", token), {"name": "Ruvena", "signed_as": "client"})
    assert answer.status_code in (200, 422)
    assert at("form-screen", token, "H03") in text(answer) and "Not signed yet" in text(answer)
    assert not models.Screening.objects.exists()


def test_a_signature_without_a_name_says_so_beside_it(client, token):
    make.answer(token, now=timezone.now())
    answer = client.post(at("form-card", token), {"name": " ", "signed_as": "client"})
    assert answer.status_code == 422 and 'href="#id_name"' in text(answer)


def test_the_outcome_is_told_in_plain_words_without_a_finding(client, token):
    make.answer(token, {"S6": ["yes"]}, now=timezone.now())
    page = text(client.post(at("form-card", token), {"name": "Ruvena", "signed_as": "client"}, follow=True))
    assert "a few written words from your doctor" in page
    for word in ("palpitations", "racing", "refer", "S6"):
        assert word not in page.split("<main")[1]


def test_no_page_of_the_form_stays_in_a_shared_tablet(client, token):
    assert client.get(at("form-screen", token, "H02")).headers["Cache-Control"] == "no-store"
