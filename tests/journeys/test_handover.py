"""A tablet of the house goes from the desk to a client and back: one form, and nothing else in between."""

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from playwright.sync_api import Page, expect

from clients import models as client_models
from tests.journeys import cast
from tests.journeys.stage import Device, Stage
from tests.make import PASSWORD

pytestmark = pytest.mark.browser
KEPT = "This tablet is kept to one form."


@dataclass
class Handed:
    stage: Stage
    tablet: Device
    client: client_models.Client


@pytest.fixture(scope="module")
def handed(stage: Stage) -> Iterator[Handed]:
    stage.at(cast.at(cast.MONDAY, 9))
    people = cast.gather()
    tablet = stage.device("tablet", "hand", touch=True)
    tablet.log_in(cast.DESK)
    yield Handed(stage, tablet, people.namesake)


def hand_over(handed: Handed, button: str) -> Page:
    page = handed.tablet.go(f"/desk/clients/{handed.client.pk}/")
    page.get_by_role("button", name=button, exact=True).click()
    page.wait_for_url("**/form/**")
    return page


def take_back(page: Page, password: str) -> None:
    page.fill("#id_username", cast.DESK)
    page.fill("#id_password", password)
    page.get_by_role("button", name="Take it back").click()


def test_the_tablet_shows_the_form_and_nothing_else_whatever_the_client_tries(handed):
    page = hand_over(handed, "Fill it in on this tablet")
    form = page.url
    handed.tablet.keep("1-form", everywhere=True)
    expect(page.locator("main")).to_contain_text("Ruvena Tarnelow")
    page.go_back()
    expect(page.locator("main")).not_to_contain_text("In an emergency")
    expect(page.get_by_role("heading", level=1)).to_have_text(KEPT)
    handed.tablet.keep("2-kept", everywhere=True)
    for address in ("/", "/desk/", f"/desk/clients/{handed.client.pk}/", "/login/", "/office/", "/no-such-page/"):
        expect(handed.tablet.go(address).get_by_role("heading", level=1)).to_have_text(KEPT)
    page.get_by_role("link", name="Back to the form").tap()
    expect(page).to_have_url(form)
    tab = handed.tablet.context.new_page()
    tab.goto(f"{handed.stage.home}/desk/clients/")
    expect(tab.get_by_role("heading", level=1)).to_have_text(KEPT)
    tab.close()


def test_it_stays_so_when_the_browser_is_closed_and_opened_again(handed):
    kept = handed.tablet.context.storage_state()
    again = handed.stage.browser.new_context(storage_state=kept)
    page = again.new_page()
    page.goto(f"{handed.stage.home}/desk/clients/")
    expect(page.get_by_role("heading", level=1)).to_have_text(KEPT)
    again.close()


def test_a_member_of_staff_takes_it_back_and_the_address_in_its_history_opens_nothing(handed):
    page = handed.tablet.page
    page.get_by_role("link", name="Begin").tap()
    page.wait_for_url("**/ask/**")
    asked = page.url
    page.get_by_role("link", name="take the tablet back").tap()
    handed.tablet.keep("3-take-back", everywhere=True)
    take_back(page, "not this one")
    expect(page.get_by_role("alert")).to_contain_text("The tablet stays kept to the form")
    take_back(page, PASSWORD)
    expect(page.locator("#messages")).to_contain_text("The tablet is back")
    expect(page.get_by_role("heading", level=1)).to_have_text("Ruvena Tarnelow")
    page.goto(asked)
    expect(page.get_by_role("heading", level=1)).to_have_text("This link opens nothing any more.")
    assert not client_models.FormLink.objects.filter(ended_at=None).exists()


def test_a_re_check_on_the_tablet_is_two_screens_and_a_name(handed):
    page = hand_over(handed, "Re-check on this tablet")
    handed.tablet.keep("4-re-check", everywhere=True)
    page.get_by_role("link", name="Begin").tap()
    page.wait_for_url("**/ask/safety/")
    for answer in page.locator('label.answer:has([value="no"])').all():
        answer.tap()
    handed.tablet.keep("5-first-of-all", everywhere=True)
    page.get_by_role("button", name="Go on", exact=True).tap()
    page.wait_for_url("**/ask/recheck/")
    for answer in page.locator('label.answer:has([value="none"])').all():
        answer.tap()
    handed.tablet.keep("6-since-then", everywhere=True)
    page.get_by_role("button", name="Go on", exact=True).tap()
    page.wait_for_url("**/card/")
    page.fill("#id_name", "Ruvena Tarnelow")
    handed.tablet.keep("7-still-so", everywhere=True)
    page.get_by_role("button", name="Sign and send").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Thank you")
    handed.tablet.keep("8-hand-it-back", everywhere=True)
    assert handed.client.health_forms.get(state="signed").kind == "quick"


def test_back_goes_through_no_answer_once_the_tablet_is_with_the_desk_again(handed):
    page = handed.tablet.page
    page.get_by_role("link", name="take the tablet back").tap()
    take_back(page, PASSWORD)
    expect(page.locator("#messages")).to_contain_text("The tablet is back")
    seen = set()
    for _ in range(6):
        page.go_back()
        seen.add(page.get_by_role("heading", level=1).inner_text())
        expect(page.locator("label.answer")).to_have_count(0)
        expect(page.locator(".filled")).to_have_count(0)
    assert "This form is signed." in seen
