"""The check-in and the pages after it in a real browser: two taps with a chalky hand, targets, and what axe finds."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from programming import models
from tests.programming.test_browser_floor import GRAVE, HOUSE, TABLET, UPRIGHT, browser, go, tablet

__all__ = ["browser", "tablet"]
pytestmark = [pytest.mark.browser, pytest.mark.django_db]
TARGETS = "main button, main .btn, main label.pick, main summary, main input[type=number], main input[name=reps]"
TOUCH = 64


def small_targets(page: Page) -> list[str]:
    found = []
    for target in page.locator(TARGETS).all():
        box = target.bounding_box()
        if box and box["height"] < TOUCH - 0.5:
            found.append(f"{target.inner_text()[:30]} {box['height']:.0f}")
    return found


def grave(page: Page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [one["id"] for one in found if one["impact"] in GRAVE]


def standing(lesson) -> models.Program:
    return models.Program.objects.get(place=lesson.place, replaced_at=None)


def test_a_sore_wrist_is_two_taps_and_undone_with_a_third(tablet, lesson):
    go(tablet, lesson, "check-in")
    tablet.get_by_label("left wrist or hand").check(force=True)
    tablet.get_by_role("button", name="3", exact=True).click()
    expect(tablet.get_by_role("heading", name="Left wrist or hand; pain 3")).to_be_visible()
    assert standing(lesson).today_only
    tablet.get_by_role("button", name="Take it back").click()
    expect(tablet.get_by_role("link", name="Check-in")).to_be_visible()
    assert not standing(lesson).today_only


@pytest.mark.parametrize("view", [TABLET, UPRIGHT], ids=["lying", "upright"])
def test_the_whole_check_in_is_in_reach_without_scrolling_and_no_target_is_small(tablet, lesson, view):
    tablet.set_viewport_size(view)
    go(tablet, lesson, "check-in")
    last = tablet.locator("button[name=pain]").last.bounding_box()
    assert last and last["y"] + last["height"] <= view["height"]
    assert small_targets(tablet) == []
    assert tablet.evaluate("document.documentElement.scrollWidth") <= view["width"]


def test_the_pages_around_a_program_have_large_targets_and_nothing_grave(tablet, lesson):
    program = standing(lesson)
    line = program.lines.order_by("position")[3]
    pages = [
        reverse("programming:check-in", args=[lesson.place.pk]),
        reverse("programming:program", args=[program.pk]),
        reverse("programming:program-line", args=[program.pk, line.pk]),
        reverse("programming:differences", args=[program.pk]),
        reverse("programming:body", args=[lesson.client.pk]),
        reverse("programming:waivers", args=[lesson.client.pk]) + "?exercise=R-SSP",
    ]
    found = {}
    for page in pages:
        tablet.goto(HOUSE + page)
        if wrong := [*small_targets(tablet), *grave(tablet)]:
            found[page] = wrong
    assert found == {}
