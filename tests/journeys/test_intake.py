"""A sign that a doctor should see, from the form to the first lesson: on real parts, each person at her own device.

The desk learns which paper is missing and never why; the letter comes in, the teacher puts it into terms, and only then
can a lesson be booked. An answer that is an emergency stops the form at once. Pictures are kept under var/journeys/.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import pytest
from django.test import override_settings
from playwright.sync_api import Page, expect

from clients import actions as client_actions
from clients import models as client_models
from programming.demo import drawing
from scheduling import models as scheduling_models
from studio import models as studio_models
from tests import make_clients
from tests.journeys import cast
from tests.journeys.cast import MONDAY, THURSDAY, Cast, at
from tests.journeys.stage import Device, Stage

pytestmark = pytest.mark.browser
NINE = at(MONDAY, 9)
OSWIN, LIV = "Oswin Threll", "Liv Harrowgate"
# Breath that runs out after hardly any effort; everything else is quiet.
TELLS_OF_A_SIGN = {"S2": "yes"}
TELLS_OF_CHEST_PAIN = {"F20": "yes"}
QUIET = ("no", "none", "usual", "light_moderate", "light")
# What the desk must never read of him.
OF_HIS_HEALTH = ("breath", "effort", "heart", "sign of", "a sign", "limits", "avoid", "clear ", "diagnos")
CLINICIAN, TEACHER = "Dr. Maren Oskell", "Henrike Aldous"


@dataclass
class House:
    stage: Stage
    cast: Cast
    desk: Device
    floor: Device

    def client(self, name: str) -> client_models.Client:
        return client_models.Client.objects.get(name=name)

    def tablet(self) -> Device:
        return self.stage.device("client's tablet", "hand", touch=True)


@pytest.fixture(scope="module")
def house(stage: Stage, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    with override_settings(FILES_DIR=tmp_path_factory.mktemp("files")):
        yield opened(stage)


def opened(stage: Stage) -> House:
    people = cast.gather()
    stage.at(NINE)
    for name in (OSWIN, LIV):
        make_clients.client(name, born_on=cast.OPENED.date().replace(year=1968), now=cast.OPENED)
    desk, floor = stage.device("desk"), stage.device("teacher's tablet", "stand", touch=True)
    desk.log_in(cast.DESK)
    floor.log_in(cast.TEACHER)
    return House(stage, people, desk, floor)


def opens_the_form(house: House, name: str) -> Device:
    made = client_actions.make_form_link(house.client(name).pk, by=house.cast.owner, now=NINE)
    device = house.tablet()
    device.go(made.address)
    device.page.get_by_role("link", name="Begin").tap()
    device.page.wait_for_url("**/ask/**")
    return device


def answers(page: Page, told: Mapping[str, str]) -> None:
    """Everything that this screen asks: what is told, else the quietest answer; then go on."""
    here = page.url
    names = page.evaluate("[...new Set([...document.querySelectorAll('form.screen [name]')].map(e => e.name))]")
    for name in names:
        controls = page.locator(f'form.screen [name="{name}"]')
        kind = controls.first.get_attribute("type") or "words"
        if kind in ("radio", "checkbox") and not controls.locator(":scope:checked").count():
            values = [one.get_attribute("value") or "" for one in controls.all()]
            wanted = told.get(name) or next((word for word in QUIET if word in values), values[0])
            page.locator("label.answer").filter(has=page.locator(f'[name="{name}"][value="{wanted}"]')).tap()
        elif controls.first.get_attribute("inputmode") == "numeric" and not controls.first.input_value():
            controls.first.fill("0")
    page.get_by_role("button", name="Go on", exact=True).tap()
    page.wait_for_url(lambda url: url != here)


# --- a ----------------------------------------------------------------------------------------------------------------
def test_a_client_tells_of_a_sign_and_is_asked_kindly_for_a_letter(house):
    tablet = opens_the_form(house, OSWIN)
    page = tablet.page
    while not page.url.rstrip("/").endswith("/card"):
        answers(page, TELLS_OF_A_SIGN)
    page.fill("#id_name", OSWIN)
    page.get_by_role("button", name="Sign and send").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Thank you")
    thanks = page.locator("main").inner_text()
    assert "written words from your doctor" in thanks
    assert "breath" not in thanks.lower()
    tablet.keep("a1-letter-first", everywhere=True)
    leaves(house, tablet)
    assert client_models.Screening.objects.get(client__name=OSWIN, replaced_at=None).outcome == "refer"


def leaves(house: House, device: Device) -> None:
    assert device.wrong == []
    device.close()
    house.stage.devices.remove(device)


# --- b ----------------------------------------------------------------------------------------------------------------
def test_the_desk_sees_which_paper_is_missing_and_nothing_else(house):
    page = house.desk.go(f"/desk/clients/{house.client(OSWIN).pk}/")
    words = page.locator("main").inner_text().lower()
    assert "form not current" in words
    assert "letter" in words
    assert not of_his_health(page)
    house.desk.keep("b1-only-the-paper", everywhere=True)


def of_his_health(page: Page) -> list[str]:
    """Words of the page that would tell the desk something of his health."""
    words = page.locator("main").inner_text().lower()
    return [word for word in OF_HIS_HEALTH if re.search(rf"\b{word}", words)]


# --- c ----------------------------------------------------------------------------------------------------------------
def test_a_booking_is_refused_with_the_paper_that_is_still_to_come(house):
    page = house.desk.page
    looks_for_thursday(page, house)
    expect(page.locator("main")).to_contain_text("form not current")
    page.locator(".opening").filter(has_text="10:00 to 10:55").get_by_role("button").click()
    expect(page.get_by_role("alert")).to_contain_text("letter")
    assert not of_his_health(page)
    house.desk.keep("c1-not-yet", everywhere=True)
    assert not scheduling_models.Place.objects.filter(client__name=OSWIN).exists()


def looks_for_thursday(page: Page, house: House) -> None:
    """He is chosen by name at the openings, and Thursday morning is looked through."""
    house.desk.go("/desk/openings/")
    page.get_by_label("Client, by name, phone or e-mail").press_sequentially(OSWIN[:8], delay=20)
    page.locator("#who-found a.btn").filter(has_text=OSWIN).first.click()
    expect(page.get_by_label("Client, by name, phone or e-mail")).to_have_value(OSWIN)
    page.get_by_label("Apparatus").select_option(label="Reformer 3")
    page.get_by_label("Teacher").select_option(label=TEACHER)
    page.get_by_label("First day").fill(THURSDAY.isoformat())
    page.get_by_label("How far ahead").select_option("0")
    page.get_by_label("Earliest").fill("10:00")
    page.get_by_label("Latest").fill("12:00")
    page.get_by_role("button", name="Look").click()


# --- d ----------------------------------------------------------------------------------------------------------------
def test_the_desk_keeps_the_letter_and_lays_it_before_a_teacher(house, tmp_path):
    paper = tmp_path / "letter.jpg"
    paper.write_bytes(drawing.letter(lines=[CLINICIAN, f"About {OSWIN}:", "Light to moderate exercise is welcome."]))
    page = house.desk.go("/desk/papers/")
    expect(page.locator("main")).to_contain_text(OSWIN)
    assert not of_his_health(page)
    house.desk.keep("d1-papers-waited-for", everywhere=True)
    page.get_by_role("row").filter(has_text=OSWIN).get_by_role("link", name="It is here").click()
    page.set_input_files("#id_file", paper)
    page.get_by_label("lay it before", exact=False).or_(page.locator("#id_routed_to")).first.select_option(
        label=TEACHER
    )
    house.desk.keep("d2-hand-in", everywhere=True)
    page.get_by_role("button", name="Keep the letter").click()
    page.wait_for_url(lambda url: not url.endswith("/letter/"))
    assert client_models.Screening.objects.get(client__name=OSWIN, replaced_at=None).outcome == "refer"
    house.desk.keep("d3-it-has-come")


# --- e ----------------------------------------------------------------------------------------------------------------
def test_the_teacher_reads_the_page_enters_its_terms_and_confirms_them_by_name(house):
    page = house.floor.go("/floor/letters/")
    letter = client_models.Letter.objects.get(client__name=OSWIN)
    page = house.floor.go(f"/floor/letters/{letter.pk}/")
    expect(page.get_by_alt_text("Page 1 of the letter")).to_be_visible()
    page.wait_for_function("document.querySelector('.letter-pages img').naturalWidth > 100")
    house.floor.keep("e1-letter", everywhere=True)
    page.get_by_label("Signed by").fill(CLINICIAN)
    page.get_by_label("Profession").fill("General practitioner")
    page.get_by_label("Dated").fill(MONDAY.isoformat())
    for tick in page.locator('input[name="answers"]').all():
        tick.check()
    page.locator("label").filter(has=page.locator('[name="effort"][value="light_moderate"]')).tap()
    expect(page.locator('[name="effort"][value="light_moderate"]')).to_be_checked()
    page.get_by_role("button", name="Read it back to me").tap()
    expect(page.get_by_role("heading", name="What confirming does")).to_be_visible()
    house.floor.keep("e2-read-back", everywhere=True)
    page.get_by_role("button", name="Confirm, in my name").tap()
    expect(page.get_by_role("row").filter(has_text="in force")).to_contain_text(f"read by {TEACHER}")
    house.floor.keep("e3-confirmed")
    letter.refresh_from_db()
    assert (letter.state, letter.confirmed_by.email) == ("confirmed", cast.TEACHER)
    assert client_models.Screening.objects.get(client__name=OSWIN, replaced_at=None).outcome == "clear_limited"


# --- f ----------------------------------------------------------------------------------------------------------------
def test_now_the_desk_sees_a_current_form_and_books_his_first_lesson(house):
    page = house.desk.go(f"/desk/clients/{house.client(OSWIN).pk}/")
    assert "form current" in page.locator("main").inner_text().lower()
    assert not of_his_health(page)
    house.desk.keep("f1-form-current")
    looks_for_thursday(page, house)
    page.locator(".opening").filter(has_text="10:00 to 10:55").get_by_role("button").click()
    expect(page.locator("#messages")).to_contain_text(f"{OSWIN} is booked on Thursday 12 March at 10:00, Reformer 3")
    house.desk.keep("f2-booked")
    assert scheduling_models.Place.objects.get(client__name=OSWIN).during.lower == at(THURSDAY, 10)


def test_every_look_at_the_letter_is_on_record_with_a_name(house):
    looked = studio_models.AuditEntry.objects.filter(
        client_key=house.client(OSWIN).pk, verb__in=("read_letter", "read_file")
    )
    assert set(looked.values_list("person__email", flat=True)) == {cast.TEACHER}


# --- z ----------------------------------------------------------------------------------------------------------------
def test_an_emergency_stops_the_form_at_once_with_the_number_and_nothing_else(house):
    tablet = opens_the_form(house, LIV)
    page = tablet.page
    # The very first screen: nothing was asked before it.
    answers(page, TELLS_OF_CHEST_PAIN)
    expect(page.get_by_role("alert")).to_contain_text("Call your local emergency number now")
    call = page.get_by_role("link", name="Call")
    assert (call.get_attribute("href") or "").startswith("tel:")
    assert page.locator("form.screen").count() == 0
    assert page.get_by_role("button", name="Go on").count() == 0
    tablet.keep("z1-emergency", everywhere=True)
    leaves(house, tablet)


def test_the_desk_is_told_to_fetch_the_instructor_and_not_why(house):
    page = house.desk.go(f"/desk/clients/{house.client(LIV).pk}/")
    words = page.locator("main").inner_text().lower()
    assert "chest" not in words and "emergency" not in words.replace("in an emergency", "").replace(
        "emergency contact", ""
    )
    house.desk.keep("z2-desk-after-emergency")
