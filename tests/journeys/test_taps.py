"""Hands are quick and unsure: two taps on one button, the back button, and the same page sent twice."""

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from playwright.sync_api import Page, expect

from programming import models as programming_models
from scheduling import models as scheduling_models
from tests import make_full_day, make_scheduling
from tests.journeys.stage import Device, Stage
from tests.make_full_day import MIDDAY, FullDay
from tests.make_scheduling import DAY

pytestmark = pytest.mark.browser


@dataclass
class Day:
    stage: Stage
    full: FullDay
    desk: Device
    floor: Device

    def lines_marked(self) -> int:
        place = self.full.keys["place_id"]
        return programming_models.LogLine.objects.filter(log__place_id=place).count()


@pytest.fixture(scope="module")
def day(stage: Stage) -> Iterator[Day]:
    full = make_full_day.build(full=False)
    stage.at(MIDDAY)
    desk, floor = stage.device("desk"), stage.device("teacher", "stand", touch=True)
    desk.log_in(full.people["desk"].email)
    floor.log_in(full.people["instructor"].email)
    yield Day(stage, full, desk, floor)


def openings_for(day: Day, name: str) -> Page:
    who = make_scheduling.client(name)
    machine = day.full.house.reformers[2].pk
    return day.desk.go(f"/desk/openings/?client={who.pk}&day={DAY}&on=machine:{machine}&earliest=12:00")


def places_of(name: str) -> int:
    return scheduling_models.Place.objects.filter(client__name=name).count()


def test_two_taps_on_book_book_once(day):
    page = openings_for(day, "Leontyne Ibsgard")
    page.locator(".opening").first.get_by_role("button").dblclick()
    expect(page.locator("#messages")).to_contain_text("is booked")
    assert places_of("Leontyne Ibsgard") == 1


def test_back_to_the_list_after_booking_no_longer_offers_what_was_booked(day):
    page = openings_for(day, "Marsilla Quorn")
    booked = page.locator(".opening").first
    times = booked.locator("div > span").first.inner_text()
    booked.get_by_role("button").click()
    expect(page.locator("#messages")).to_contain_text("is booked")
    page.go_back()
    expect(page.locator(".opening").first).to_be_visible()
    expect(page.locator(".openings")).not_to_contain_text(times)
    assert places_of("Marsilla Quorn") == 1


def test_a_reload_of_the_sheet_after_a_booking_books_nothing_more(day):
    page = openings_for(day, "Perpetua Vane")
    page.locator(".opening").first.get_by_role("button").click()
    expect(page.locator("#messages")).to_contain_text("is booked")
    page.reload()
    assert places_of("Perpetua Vane") == 1


def test_undo_after_booking_takes_the_booking_back(day):
    page = openings_for(day, "Sunniva Orrell")
    page.locator(".opening").first.get_by_role("button").click()
    page.locator("#messages").get_by_role("button", name="Undo").click()
    expect(page.locator("#messages")).not_to_contain_text("is booked")
    assert not scheduling_models.Place.objects.filter(client__name="Sunniva Orrell", live=True, state="booked").exists()


def test_two_quick_taps_on_done_mark_one_line(day):
    before = day.lines_marked()
    page = day.floor.go(day.full.address("programming:run-sheet", {"place_id": None}))
    at_line = page.locator(".line-view").get_attribute("aria-label")
    done = page.locator(".marks").get_by_role("button", name="Done", exact=True)
    box = done.bounding_box()
    assert box is not None
    for _ in range(2):
        page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(page.locator(".line-view")).not_to_have_attribute("aria-label", at_line or "")
    assert day.lines_marked() == before + 1


def test_a_second_tablet_that_marks_the_same_line_changes_its_mark_and_adds_none(day):
    other = day.stage.device("second tablet", "hand", touch=True)
    other.log_in(day.full.people["instructor"].email)
    address = day.full.address("programming:run-sheet", {"place_id": None})
    for device in (day.floor, other):
        device.go(address)
    before = day.lines_marked()
    for device, word in ((day.floor, "Done"), (other, "Fewer")):
        at_line = device.page.locator(".line-view").get_attribute("aria-label")
        device.page.locator(".marks").get_by_role("button", name=word, exact=True).tap()
        expect(device.page.locator(".line-view")).not_to_have_attribute("aria-label", at_line or "")
    assert day.lines_marked() == before + 1


def test_back_from_the_next_line_shows_the_sheet_as_it_is_and_loses_no_mark(day):
    page = day.floor.go(day.full.address("programming:floor", {}))
    page.goto(day.stage.home + day.full.address("programming:run-sheet", {"place_id": None}))
    before = day.lines_marked()
    at_line = page.locator(".line-view").get_attribute("aria-label")
    page.locator(".marks").get_by_role("button", name="Done", exact=True).tap()
    expect(page.locator(".line-view")).not_to_have_attribute("aria-label", at_line or "")
    page.go_back()
    page.go_forward()
    assert day.lines_marked() == before + 1
    expect(page.locator(".line-view")).not_to_have_attribute("aria-label", at_line or "")
