"""A real studio's first day, from an empty house to an empty day sheet; then its people come, change and leave."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import pytest
from playwright.sync_api import Page, expect

from scheduling import models as scheduling_models
from studio import models
from studio.rules import Role
from tests.journeys import cast
from tests.journeys.stage import Device, Stage, link_in

pytestmark = pytest.mark.browser
OWNER, PASSWORD = "amabel@studio.example", "a carriage at first light"
TEACHER, OTHER = "corvin@studio.example", "a spring for every morning"


@dataclass
class FirstDay:
    stage: Stage
    owner: Device


@pytest.fixture(scope="module")
def day(stage: Stage) -> Iterator[FirstDay]:
    stage.at(cast.at(date(2026, 3, 9), 9))
    stage.start_worker()
    yield FirstDay(stage, stage.device("owner"))


def test_an_empty_house_leads_its_owner_to_an_empty_friendly_day_sheet(day):
    page = day.owner.go("/")
    expect(page.locator("h1")).to_have_text("You")
    day.owner.keep("1-account", everywhere=True)
    page.fill("#id_name", "Amabel Rook")
    page.fill("#id_email", OWNER)
    page.fill("#id_password", PASSWORD)
    page.fill("#id_again", PASSWORD)
    go_on(page, "House")
    page.fill("#id_business", "Low Tide Pilates")
    page.fill("#id_name", "Net Loft")
    page.fill("#id_time_zone", "Europe/Lisbon")
    day.owner.keep("2-house", everywhere=True)
    go_on(page, "Hours")
    page.fill("#id_day_5", "9:00-13:00")
    day.owner.keep("3-hours", everywhere=True)
    go_on(page, "Machines")
    put_in_machines(page)
    day.owner.keep("4-machines", everywhere=True)
    page.get_by_role("link", name="Go on").click()
    invite_a_teacher(page)
    day.owner.keep("5-teachers", everywhere=True)
    page.get_by_role("link", name="Go on").click()
    expect(page.locator("h1")).to_have_text("Policy")
    day.owner.keep("6-policy", everywhere=True)
    page.get_by_role("button", name="Open the house").click()
    expect(page.locator("#messages")).to_contain_text("The house is open. This is its first day.")
    expect(page.locator("h1")).to_contain_text("9 March")
    expect(page.locator(".sheet")).to_contain_text("Reformer A")
    day.owner.keep("7-empty-day-sheet", everywhere=True)
    springs = {one.label: one.springs.count() for one in scheduling_models.Apparatus.objects.all()}
    assert springs == {"Reformer A": 5, "Reformer B": 4}


def go_on(page: Page, step: str) -> None:
    page.get_by_role("button", name="Keep it and go on").click()
    expect(page.locator("h1")).to_have_text(step)


def put_in_machines(page: Page) -> None:
    page.get_by_label("Room").first.fill("The Loft")
    page.get_by_role("button", name="Add the room").click()
    for label, light in (("Reformer A", "1"), ("Reformer B", "0")):
        page.get_by_label("Label").fill(label)
        page.get_by_label("Light springs").fill(light)
        page.get_by_role("button", name="Put it in").click()
        expect(page.locator("#machines table")).to_contain_text(label)


def invite_a_teacher(page: Page) -> None:
    expect(page.locator("h1")).to_have_text("Teachers")
    page.fill("#id_name", "Corvin Ashby")
    page.fill("#id_email", TEACHER)
    page.get_by_role("button", name="Send the invitation").click()
    expect(page.locator("#messages")).to_contain_text("An invitation is on its way to Corvin Ashby")


def test_nobody_can_set_the_house_up_a_second_time(day):
    page = day.stage.device("stranger").go("/welcome/account/")
    expect(page.locator("h1")).to_have_text("Sign in")
    assert models.Person.objects.filter(roles__contains=[Role.OWNER.value]).count() == 1


def test_the_invited_teacher_chooses_a_password_by_the_mailed_link_which_opens_once(day):
    link = link_in(day.stage.letter(TEACHER, subject="asks you to join"))
    tablet = day.stage.device("teacher", "hand", touch=True)
    page = tablet.go(link)
    expect(page.locator("h1")).to_contain_text("Welcome, Corvin Ashby")
    tablet.keep("8-invitation", everywhere=True)
    page.fill("#id_password", OTHER)
    page.fill("#id_again", OTHER)
    page.get_by_role("button", name="Come in").tap()
    page.wait_for_url(f"{day.stage.home}/")
    assert workplaces(page) == ["Floor"]
    tablet.keep("9-home-of-a-teacher", everywhere=True)
    stranger = day.stage.device("second use").go(link)
    expect(stranger.locator("main")).not_to_contain_text("Choose a password")


def workplaces(page: Page) -> list[str]:
    return page.locator("nav.tabs a").all_inner_texts()


def test_a_second_role_counts_from_the_next_click_and_leaving_ends_the_session(day):
    teacher = next(device for device in day.stage.devices if device.name == "teacher")
    person = models.Person.objects.get(email=TEACHER)
    page = day.owner.go(f"/office/staff/{person.pk}/")
    page.get_by_label("Front desk").check()
    page.get_by_role("button", name="Keep these roles").click()
    expect(page.locator("#messages")).to_contain_text("are kept")
    day.owner.keep("10-second-role", everywhere=True)
    teacher.page.reload()
    assert workplaces(teacher.page) == ["Desk", "Floor"]
    page.get_by_role("link", name="Leaves the house").click()
    day.owner.keep("11-leaves", everywhere=True)
    page.get_by_role("button", name="Close the account").click()
    expect(page.locator("#messages")).to_contain_text("has left")
    teacher.page.reload()
    expect(teacher.page.locator("h1")).to_have_text("Sign in")
    teacher.page.fill("#id_username", TEACHER)
    teacher.page.fill("#id_password", OTHER)
    teacher.page.get_by_role("button", name="Sign in").tap()
    expect(teacher.page.get_by_role("alert")).to_be_visible()
    person.refresh_from_db()
    assert not person.is_active


def test_after_five_wrong_passwords_the_address_waits_and_is_told_so_and_nobody_else_is_kept_out(day):
    door = day.stage.device("door", "stand", touch=True)
    page = door.go("/login/")
    door.keep("12-login", everywhere=True)
    for _ in range(5):
        page.fill("#id_username", "somebody@studio.example")
        page.fill("#id_password", "not the password")
        with page.expect_navigation():
            page.get_by_role("button", name="Sign in").click()
    expect(page.locator("h1")).to_have_text("Wait a quarter of an hour.")
    door.keep("13-locked-out", everywhere=True)
    other = day.stage.device("colleague")
    other.log_in(OWNER, PASSWORD)
    assert workplaces(other.page) == ["Desk", "Office"]
