"""The floor in a real browser on real pages and rows: taps, the second tap, undo, the dark page, sizes of targets."""

import contextvars
import mimetypes
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import time_machine
from axe_playwright_python.sync_playwright import Axe
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Browser, Page, Route, ViewportSize, sync_playwright

from programming import models
from tests.conftest import logged_in
from tests.make_programming import LESSON

pytestmark = [pytest.mark.browser, pytest.mark.django_db]
HOUSE = "http://house.example"
TABLET: ViewportSize = {"width": 1180, "height": 820}
UPRIGHT: ViewportSize = {"width": 820, "height": 1180}
GRAVE = ("serious", "critical")
PHONE: ViewportSize = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    # The browser's own loop runs in this thread while the pages are answered from it.
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        yield chromium
        chromium.close()
    if before is None:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


class Answers:
    """The product itself behind the browser: every request goes through its own middleware, pages and actions."""

    def __init__(self, client: Client) -> None:
        self.client = client
        # A handler runs in a context of its own; the test's knows the connection with its savepoint.
        self.context = contextvars.copy_context()

    def __call__(self, route: Route) -> None:
        request = route.request
        path = request.url.removeprefix(HOUSE)
        if path.startswith("/static/"):
            found = finders.find(urlsplit(path).path.removeprefix("/static/"))
            kind = mimetypes.guess_type(path)[0] or "font/woff2"
            return route.fulfill(body=Path(str(found)).read_bytes(), content_type=kind)
        headers = {name: value for name, value in request.headers.items() if name.startswith("hx-")}
        kind = request.headers.get("content-type", "application/x-www-form-urlencoded")
        with time_machine.travel(LESSON, tick=False):
            answer = self.context.run(
                self.client.generic, request.method, path, request.post_data or "", content_type=kind, headers=headers
            )
        if answer.status_code in (302, 303):
            # Interception cannot hand on a redirect, so the browser is sent there by the page itself.
            body = f'<!doctype html><meta http-equiv="refresh" content="0;url={HOUSE}{answer["Location"]}">'
            return route.fulfill(status=200, body=body, content_type="text/html")
        shown = {name: value for name, value in answer.headers.items() if name.lower() != "content-length"}
        route.fulfill(status=answer.status_code, headers=shown, body=answer.content)


@pytest.fixture
def tablet(browser: Browser, lesson) -> Iterator[Page]:
    lesson.assign()
    page = browser.new_page(viewport=TABLET, has_touch=True)
    page.route("**/*", Answers(logged_in(lesson.teacher)))
    refused: list[str] = []
    page.on("console", lambda said: refused.append(said.text) if "Content Security" in said.text else None)
    page.on("pageerror", lambda error: refused.append(str(error)))
    yield page
    page.close()
    assert refused == []


def go(page: Page, lesson, name: str = "run-sheet") -> None:
    page.goto(HOUSE + reverse(f"programming:{name}", args=[lesson.place.pk]))


def marks(lesson) -> list[str]:
    rows = models.LogLine.objects.filter(log__place=lesson.place).order_by("program_line__position")
    return list(rows.values_list("mark", flat=True))


def at(page: Page, number: int) -> None:
    page.get_by_text(f"line {number} of").wait_for()


def test_one_tap_marks_the_line_and_turns_to_the_next(tablet, lesson):
    go(tablet, lesson)
    tablet.get_by_role("button", name="Done").tap()
    at(tablet, 2)
    assert marks(lesson) == ["done"]
    assert tablet.get_by_role("heading", level=1).inner_text() == "Arches"


def test_a_second_tap_within_400_ms_is_the_same_tap(tablet, lesson):
    go(tablet, lesson)
    tablet.evaluate(
        """() => {
          const tap = () => document.querySelector('.marks button[value=done]').click();
          tap(); tap();
          new MutationObserver((_, watch) => { watch.disconnect(); tap(); })
            .observe(document.getElementById('main'), {childList: true});
        }"""
    )
    at(tablet, 2)
    tablet.wait_for_timeout(600)
    assert marks(lesson) == ["done"]


def test_undo_goes_back_to_its_line(tablet, lesson):
    go(tablet, lesson)
    tablet.get_by_role("button", name="Done").tap()
    at(tablet, 2)
    tablet.wait_for_timeout(450)
    tablet.get_by_role("button", name="Undo, back to Toes").tap()
    at(tablet, 1)
    assert marks(lesson) == []


def test_a_score_stays_pressed_after_its_tap(tablet, lesson):
    go(tablet, lesson)
    tablet.get_by_role("button", name="Done").tap()
    at(tablet, 2)
    tablet.wait_for_timeout(450)
    tablet.get_by_role("button", name="4", exact=True).tap()
    tablet.locator('.scores [aria-pressed="true"]').wait_for()
    assert models.LogLine.objects.get(log__place=lesson.place).score == 4


def test_the_dark_page_is_one_tap(tablet, lesson):
    go(tablet, lesson)
    tablet.get_by_role("button", name="Dark page").tap()
    assert tablet.evaluate("document.documentElement.dataset.theme") == "dark"


@pytest.mark.parametrize("view", [TABLET, UPRIGHT, PHONE], ids=["landscape", "portrait", "phone"])
@pytest.mark.parametrize("name", ["run-sheet", "run-lines", "brief"])
def test_targets_on_the_floor_are_64_and_no_page_scrolls_sideways(tablet, lesson, view, name):
    """The floor's size of a target: the design, section 7."""
    tablet.set_viewport_size(view)
    go(tablet, lesson)
    tablet.get_by_role("button", name="Done").tap()
    at(tablet, 2)
    tablet.wait_for_timeout(450)
    go(tablet, lesson, name)
    if os.environ.get("SHOTS"):
        tablet.screenshot(path=f"{os.environ['SHOTS']}/{name}_{view['width']}.png", full_page=True)
    small = tablet.evaluate(
        """() => [...document.querySelectorAll('main .btn, .floorbar .btn, main .pick')]
          .map(one => [one.innerText.trim(), one.getBoundingClientRect()])
          .filter(([, box]) => box.width && (box.height < 63.5 || box.width < 63.5))
          .map(([words, box]) => `${words} ${box.width}x${box.height}`)"""
    )
    assert small == []
    assert tablet.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("width", [1180, 820, 768, 390])
def test_the_top_bar_breaks_only_between_the_house_and_the_ways(tablet, lesson, width):
    tablet.set_viewport_size({"width": width, "height": 820})
    tablet.goto(HOUSE + reverse("clients:list"))
    lines = tablet.evaluate(
        """() => [...document.querySelectorAll('.topbar .house, .topbar a, .topbar bdi, .topbar .btn')].map(one => {
          const words = document.createRange();
          words.selectNodeContents(one);
          const lines = new Set([...words.getClientRects()].filter(box => box.width > 1).map(box => box.bottom | 0));
          return [one.innerText.trim(), one.matches('.house') ? 1 : lines.size];
        })"""
    )
    assert len(lines) > 5 and [words for words, count in lines if count > 1] == []
    tops = tablet.evaluate(
        """() => Object.fromEntries(['house', 'who', 'tabs', 'ways'].map(name =>
          [name, document.querySelector(`.topbar .${name}`).getBoundingClientRect()]))"""
    )
    assert tops["house"]["right"] <= tops["who"]["left"]
    above = [tops["tabs"]["top"] >= tops[name]["bottom"] - 1 for name in ("house", "who")]
    assert above == [width < 1180] * 2
    assert tablet.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("name", ["run-sheet", "run-lines", "brief", "templates", "program", "floor"])
def test_axe_finds_no_serious_fault(tablet, lesson, name):
    program = models.Program.objects.get(place=lesson.place, replaced_at=None)
    keys = {"program": [program.pk], "floor": []}.get(name, [lesson.place.pk])
    tablet.goto(HOUSE + reverse(f"programming:{name}", args=keys))
    if os.environ.get("SHOTS"):
        tablet.screenshot(path=f"{os.environ['SHOTS']}/{name}.png", full_page=True)
    found = Axe().run(tablet).response["violations"]
    serious = [(one["id"], [node["html"][:160] for node in one["nodes"]]) for one in found if one["impact"] in GRAVE]
    assert serious == []


@pytest.mark.parametrize("view", [TABLET, UPRIGHT, PHONE], ids=["landscape", "portrait", "phone"])
def test_the_four_marks_and_the_line_are_in_sight_whatever_the_line(tablet, lesson, view):
    tablet.set_viewport_size(view)
    program = models.Program.objects.get(place=lesson.place, replaced_at=None)
    for line in program.lines.exclude(decision="left_out").order_by("position"):
        tablet.goto(HOUSE + reverse("programming:run-sheet", args=[lesson.place.pk]) + f"?line={line.pk}")
        if os.environ.get("SHOTS"):
            tablet.screenshot(path=f"{os.environ['SHOTS']}/at{line.position}_{view['width']}.png")
        hidden = tablet.evaluate(
            """() => {
              const under = document.querySelector('.marks').getBoundingClientRect().top;
              const hides = (one, edge) => {
                const box = one.getBoundingClientRect();
                return box.top < 0 || box.bottom > edge || box.right > innerWidth;
              };
              return [
                ...[...document.querySelectorAll('.marks button')].filter(one => hides(one, innerHeight)),
                ...[...document.querySelectorAll('.glance h1, .glance .do')].filter(one => hides(one, under)),
              ].map(one => one.innerText.trim());
            }"""
        )
        assert hidden == [], line.position
