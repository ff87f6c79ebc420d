"""The small scripts of the shell, in a real browser, on our own templates served by interception."""

import mimetypes
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from django import forms
from django.contrib.staticfiles import finders
from django.template import Context, Template
from django.template.loader import render_to_string
from playwright.sync_api import Browser, Page, Route, sync_playwright

pytestmark = pytest.mark.browser
HOUSE = "http://house.example"
POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; connect-src 'self'"


class SignIn(forms.Form):
    username = forms.EmailField()
    password = forms.CharField(widget=forms.PasswordInput)


class Said:
    """A flash message as Django hands it to a template."""

    def __init__(self, words: str, extra_tags: str) -> None:
        self.words, self.extra_tags, self.level_tag = words, extra_tags, "success"

    def __str__(self) -> str:
        return self.words


def page_of(source: str, **context: object) -> str:
    return Template(source).render(Context(context))


BOOKING = '<form method="post" action="/kept"><button class="btn">Book</button></form>'
PLAIN = '{% extends "studio/base_plain.html" %}{% load look %}'
PAGES = {
    "/login": lambda: render_to_string("studio/login.html", {"form": SignIn()}),
    "/form": lambda: page_of(
        PLAIN
        + '{% block main %}<form method="post" action="/kept"><button class="btn">Book</button></form>{% endblock %}'
    ),
    "/undo": lambda: page_of(PLAIN, messages=[Said("Booked.", "undo:/places/7/undo/")]),
    "/panel": lambda: page_of(
        PLAIN + '{% block scripts %}{% include "studio/_htmx.html" %}{% endblock %}'
        '{% block main %}<button hx-post="/gone" class="btn">Ask</button>{% endblock %}',
        csrf_token="the-token",
    ),
    "/floor": lambda: page_of('{% extends "studio/base_floor.html" %}{% block floor_back %}/{% endblock %}'),
}


def answer(route: Route) -> None:
    path = route.request.url.removeprefix(HOUSE)
    if path in PAGES:
        headers = {"content-security-policy": POLICY, "content-type": "text/html; charset=utf-8"}
        route.fulfill(body=PAGES[path](), headers=headers)
    elif path.startswith("/static/") and (found := finders.find(path.removeprefix("/static/"))):
        route.fulfill(body=Path(found).read_bytes(), content_type=mimetypes.guess_type(path)[0] or "font/woff2")
    elif path == "/kept":
        route.fulfill(status=204)
    else:
        route.fulfill(status=404)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert chromium, "The browser tests need Chromium: apt-get install chromium"
    with sync_playwright() as browsers:
        opened = browsers.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context()
    page = context.new_page()
    refused: list[str] = []
    page.on("console", lambda message: refused.append(message.text) if "Content Security" in message.text else None)
    page.on("pageerror", lambda error: refused.append(str(error)))
    page.route("**/*", answer)
    yield page
    context.close()
    assert refused == []


def test_two_taps_on_one_form_send_it_once(page: Page):
    posts: list[str] = []
    page.on("request", lambda request: posts.append(request.url) if request.method == "POST" else None)
    page.goto(f"{HOUSE}/form")
    page.evaluate("() => { const form = document.forms[0]; form.requestSubmit(); form.requestSubmit(); }")
    page.wait_for_selector("form[aria-busy=true]")
    page.evaluate("() => document.forms[0].requestSubmit()")
    page.evaluate("() => new Promise(requestAnimationFrame)")
    assert posts == [f"{HOUSE}/kept"]


def test_undo_stands_for_eight_seconds_and_the_message_stays(page: Page):
    page.clock.install()
    page.goto(f"{HOUSE}/undo")
    page.clock.run_for(4_000)
    assert page.locator(".message form").count() == 1
    page.clock.run_for(4_100)
    assert page.locator(".message form").count() == 0
    assert page.inner_text(".message") == "Booked."


def test_a_password_can_be_looked_at(page: Page):
    page.goto(f"{HOUSE}/login")
    page.click("[data-reveal]")
    assert page.get_attribute("#id_password", "type") == "text"
    page.click("[data-reveal]")
    assert page.get_attribute("#id_password", "type") == "password"


def test_the_dark_page_is_kept_on_this_tablet(page: Page):
    page.goto(f"{HOUSE}/floor")
    page.click("[data-dusk]")
    page.goto(f"{HOUSE}/floor")
    assert page.get_attribute("html", "data-theme") == "dark"
    assert page.get_attribute("[data-dusk]", "aria-pressed") == "true"


def test_an_htmx_request_carries_the_token_and_its_failure_is_said(page: Page):
    page.goto(f"{HOUSE}/panel")
    with page.expect_request(f"{HOUSE}/gone") as sent:
        page.click("text=Ask")
    page.wait_for_selector("#messages .is-error")
    assert sent.value.headers["x-csrftoken"] == "the-token"
    assert "no longer there" in page.inner_text("#messages")


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("width", [390, 820, 1180, 1440])
def test_no_shell_scrolls_sideways(page: Page, path: str, width: int):
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(f"{HOUSE}{path}")
    assert page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
