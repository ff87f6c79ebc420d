"""The builder in a real browser on real pages and rows: taps, carrying, keys, two teachers, no script, sizes."""

import os
import shutil
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Browser, Locator, Page, ViewportSize, expect, sync_playwright

from programming import models
from programming.actions import drafts
from programming.rules.building import Edit, PutRow, PutSeries
from studio.rules import ApparatusKind
from tests.conftest import logged_in
from tests.make_programming import NOW
from tests.programming.test_browser_floor import GRAVE, HOUSE, PHONE, TABLET, UPRIGHT, Answers

pytestmark = [pytest.mark.browser, pytest.mark.django_db]
OFFICE: ViewportSize = {"width": 1440, "height": 900}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    # The browser's own loop runs in this thread while the pages are answered from it.
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE", "true"))
        chromium = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        yield chromium
        chromium.close()


@pytest.fixture
def draft(lesson) -> models.Template:
    made = drafts.new_template(
        name="Evening order", aim="long and quiet", kind=ApparatusKind.REFORMER, level=2, minutes=55,
        by=lesson.teacher, now=NOW,
    )  # fmt: skip
    changes: list[Edit] = [PutSeries(ApparatusKind.REFORMER, "Footwork", up_to=1), PutRow("R-HUN"), PutRow("R-FRO")]
    for revision, change in enumerate(changes):
        drafts.edit_draft(made.pk, edit=change, revision=revision, by=lesson.teacher, now=NOW)
    return made


@pytest.fixture
def open_page(browser: Browser, lesson, draft) -> Iterator[Page]:
    page = browser.new_page(viewport=TABLET)
    page.route("**/*", Answers(logged_in(lesson.teacher)))
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(said.text) if "Content Security" in said.text else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(address(draft))
    yield page
    page.close()
    assert wrong == []


def address(draft: models.Template, query: str = "") -> str:
    return HOUSE + reverse("programming:template", args=[draft.pk]) + query


def ids(draft: models.Template) -> list[str]:
    return list(draft.lines.order_by("position").values_list("exercise_id", flat=True))


def key(draft: models.Template, exercise_id: str) -> int:
    return draft.lines.get(exercise_id=exercise_id).pk


def said(page: Page, words: str) -> None:
    expect(page.locator("#said")).to_contain_text(words)


def carry(page: Page, what: Locator, to: Locator, *, above: bool = True) -> None:
    """What is held carried to the upper or lower half of a line."""
    start, end = what.bounding_box(), to.bounding_box()
    assert start and end
    page.mouse.move(start["x"] + start["width"] / 2, start["y"] + start["height"] / 2)
    page.mouse.down()
    page.mouse.move(start["x"] + 30, start["y"] + 20, steps=3)
    page.mouse.move(end["x"] + 120, end["y"] + (4 if above else end["height"] - 4), steps=5)
    page.mouse.up()


# --- taps -------------------------------------------------------------------------------------------------------------
def test_taps_that_come_faster_than_the_answers_are_all_made(open_page, draft):
    open_page.locator(f"#name-{key(draft, 'R-FRO')}").click()
    more = open_page.get_by_role("button", name="One repetition more")
    for _ in range(4):
        more.dispatch_event("click")
    # Frogs are 6 to 10, so the first tap goes from the middle, 8, to 9.
    said(open_page, "Frog in loops: 12 repetitions.")
    assert draft.lines.get(exercise_id="R-FRO").reps == 12


def test_a_series_comes_in_and_its_time_is_on_the_rail_at_once(open_page, draft):
    before = open_page.locator(".b-sums dd").first.inner_text()
    open_page.get_by_role("button", name="Put in 2 of Long box").click()
    said(open_page, "Long box: 2 parts put in.")
    assert open_page.locator(".b-sums dd").first.inner_text() != before
    assert open_page.locator(".b-touch .hit").count() == 8


def test_the_rail_is_in_view_wherever_the_page_stands(open_page, draft):
    open_page.set_viewport_size({"width": 1180, "height": 560})
    open_page.mouse.wheel(0, 600)
    expect(open_page.locator(".b-rail")).to_be_in_viewport()


def test_nothing_moves_that_is_looked_at(open_page, draft):
    open_page.set_viewport_size({"width": 1180, "height": 620})
    line = open_page.locator(f"#line-{key(draft, 'R-FW3')}")
    line.scroll_into_view_if_needed()
    open_page.mouse.wheel(0, 120)
    open_page.wait_for_timeout(200)
    before = line.bounding_box()
    for words in (
        "Footwork, arches comes after Footwork, heels now.",
        "Footwork, arches comes after Footwork, toes now.",
    ):
        deed = "down" if "heels now" in words else "up"
        open_page.locator(f"#{deed}-{key(draft, 'R-FW2')}").dispatch_event("click")
        said(open_page, words)
    assert line.bounding_box() == before


def test_what_was_typed_and_not_kept_outlives_another_change(open_page, draft):
    open_page.locator(f"#name-{key(draft, 'R-HUN')}").click()
    open_page.get_by_label("Note for whoever teaches it").fill("count aloud")
    open_page.get_by_role("button", name="One spring fewer").click()
    said(open_page, "Hundred: 3 springs.")
    expect(open_page.get_by_label("Note for whoever teaches it")).to_have_value("count aloud")
    open_page.get_by_label("Note for whoever teaches it").press("Enter")
    said(open_page, "set-up and words kept")
    assert draft.lines.get(exercise_id="R-HUN").note == "count aloud"


def test_a_search_outlives_what_is_put_in_from_it(open_page, draft):
    open_page.locator("#q").fill("pulling")
    open_page.get_by_role("button", name="Put in Pulling straps").click()
    said(open_page, "Pulling straps is line 7.")
    expect(open_page.locator("#q")).to_have_value("pulling")
    expect(open_page.get_by_role("button", name="Put in Pulling straps")).to_be_visible()
    expect(open_page.locator(".b-series")).to_have_count(0)


def test_a_chosen_set_up_is_kept_without_another_button(open_page, draft):
    open_page.locator(f"#name-{key(draft, 'R-HUN')}").click()
    open_page.get_by_label("Headrest").select_option("down")
    said(open_page, "set-up and words kept")
    assert draft.lines.get(exercise_id="R-HUN").setup == {"headrest": "down"}


# --- carrying ---------------------------------------------------------------------------------------------------------
def test_a_line_is_carried_by_its_coil(open_page, draft):
    carry(open_page, open_page.locator(f"#grip-{key(draft, 'R-FRO')}"), open_page.locator(".b-line").first)
    said(open_page, "Frog in loops comes first now.")
    assert ids(draft)[0] == "R-FRO"


def test_a_block_is_carried_whole(open_page, draft):
    block = open_page.locator("[data-grip^='block.']").first
    carry(open_page, block, open_page.locator(f"#line-{key(draft, 'R-FRO')}"), above=False)
    said(open_page, "Footwork comes after Frog in loops now.")
    assert ids(draft) == ["R-HUN", "R-FRO", "R-FW1", "R-FW2", "R-FW3", "R-FW4"]


def test_a_series_is_carried_from_the_shelf_to_its_place(open_page, draft):
    series = open_page.locator("[data-grip$='.Long box']")
    carry(open_page, series, open_page.locator(f"#line-{key(draft, 'R-HUN')}"))
    said(open_page, "Long box: 2 parts put in.")
    assert ids(draft)[4:6] == ["R-LB2", "R-LB3"]


def test_escape_puts_back_what_is_carried(open_page, draft):
    grip, to = open_page.locator(f"#grip-{key(draft, 'R-FRO')}").bounding_box(), open_page.locator(".b-line").first
    open_page.mouse.move(grip["x"] + 10, grip["y"] + 10)
    open_page.mouse.down()
    open_page.mouse.move(300, to.bounding_box()["y"] + 4, steps=5)
    expect(open_page.locator(".b-ghost")).to_be_visible()
    open_page.keyboard.press("Escape")
    open_page.mouse.up()
    expect(open_page.locator(".b-ghost")).to_have_count(0)
    assert ids(draft)[-1] == "R-FRO"


def test_a_line_is_carried_along_the_rail(open_page, draft):
    frog, first = (open_page.locator(f'[data-rail="{key(draft, name)}"]').bounding_box() for name in ("R-FRO", "R-FW1"))
    assert frog and first
    open_page.mouse.move(frog["x"] + frog["width"] / 2, frog["y"] + 20)
    open_page.mouse.down()
    open_page.mouse.move(first["x"] + 2, first["y"] + 20, steps=6)
    open_page.mouse.up()
    said(open_page, "Frog in loops comes first now.")
    assert ids(draft)[0] == "R-FRO"


# --- keys -------------------------------------------------------------------------------------------------------------
def test_the_whole_of_it_is_done_by_keyboard(open_page, draft):
    frog = key(draft, "R-FRO")
    open_page.locator(f"#grip-{frog}").focus()
    open_page.keyboard.press("ArrowUp")
    said(open_page, "Frog in loops comes after Footwork, tendon stretch lying now.")
    expect(open_page.locator(f"#grip-{frog}")).to_be_focused()
    open_page.locator(f"#name-{frog}").focus()
    open_page.keyboard.press("-")
    said(open_page, "Frog in loops: one spring.")
    open_page.keyboard.press("Control+z")
    said(open_page, "Taken back: Frog in loops: one spring.")
    open_page.keyboard.press("Control+Shift+z")
    said(open_page, "Done again")
    open_page.keyboard.press("Delete")
    said(open_page, "Frog in loops taken out.")
    assert "R-FRO" not in ids(draft)
    open_page.keyboard.press("/")
    expect(open_page.locator("#q")).to_be_focused()


# --- two teachers, and no script --------------------------------------------------------------------------------------
def test_a_late_change_is_kept_in_hand_and_made_by_one_more_tap(open_page, lesson, draft):
    drafts.edit_draft(draft.pk, edit=PutRow("R-PEL"), revision=3, by=lesson.teacher, now=NOW)
    open_page.get_by_role("button", name="Put in 2 of Long box").click()
    expect(open_page.locator(".b-refused")).to_contain_text("Pelvic lift is line 7.")
    assert "R-LB2" not in ids(draft)
    open_page.get_by_role("button", name="Make my change now").click()
    said(open_page, "Long box: 2 parts put in.")
    assert ids(draft)[-3:] == ["R-PEL", "R-LB2", "R-LB3"]


def test_a_page_looked_at_again_shows_what_was_done_meanwhile(open_page, lesson, draft):
    drafts.edit_draft(draft.pk, edit=PutRow("R-PEL"), revision=3, by=lesson.teacher, now=NOW)
    open_page.evaluate("() => document.dispatchEvent(new Event('visibilitychange'))")
    expect(open_page.locator(f"#line-{key(draft, 'R-PEL')}")).to_be_visible()


def test_without_a_script_every_button_still_does_its_deed(browser, lesson, draft):
    context = browser.new_context(java_script_enabled=False, viewport=TABLET)
    page = context.new_page()
    page.route("**/*", Answers(logged_in(lesson.teacher)))
    page.goto(address(draft))
    page.locator(f"#up-{key(draft, 'R-FRO')}").click()
    page.wait_for_url("**/#line-*")
    assert ids(draft)[-2:] == ["R-FRO", "R-HUN"]
    page.get_by_role("button", name="Put in 2 of Long box").click()
    page.wait_for_url("**/#line-*")
    assert ids(draft)[-2:] == ["R-LB2", "R-LB3"]
    page.locator("#undo").click()
    page.wait_for_url("**/#lines")
    assert ids(draft)[-1] == "R-HUN"
    context.close()


# --- sizes ------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("size", [TABLET, UPRIGHT, OFFICE, PHONE], ids=["tablet", "upright", "office", "phone"])
@pytest.mark.parametrize("side", ["put", "rules", "about"])
def test_nothing_grave_and_no_sideways_scrolling(open_page, draft, size, side):
    open_page.set_viewport_size(size)
    open_page.goto(address(draft, f"?side={side}&open={key(draft, 'R-HUN')}&series=reformer.Rowing"))
    found = Axe().run(open_page).response["violations"]
    assert [one["id"] for one in found if one["impact"] in GRAVE] == []
    box = open_page.locator("body").bounding_box()
    assert box and box["width"] <= size["width"]


def test_targets_are_large_enough_for_a_finger(open_page, draft):
    open_page.goto(address(draft, f"?open={key(draft, 'R-HUN')}"))
    buttons = open_page.locator(".b-stepper button, .b-pair button, .b-put, .b-grip, .b-edit .btn").all()
    small = [box for one in buttons if (box := one.bounding_box()) and min(box["height"], box["width"]) < 43.5]
    assert len(buttons) > 20 and small == []
