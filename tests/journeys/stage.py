"""What a journey is played on: the product's web server and Celery worker, a mail server, a browser, and the clock."""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import redis
import time_machine
from celery import current_app
from django.conf import settings
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.management import call_command
from django.db import connection, connections
from django.test import override_settings
from django.test.testcases import LiveServerThread
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect

from install import BROWSERS, NO_BROWSER
from studio import models
from tests.conftest import PREFIX
from tests.make import PASSWORD
from tests.post import PostOffice

ROOT = Path(__file__).resolve().parents[2]
ALBUM = ROOT / "var" / "journeys"
# A tablet on its stand, a tablet in the hand, the desk's screen.
SIZES = {"stand": (1180, 820), "hand": (820, 1180), "screen": (1440, 900)}
# No GPU, no QUIC, and nothing that a fresh profile would fetch by itself.
FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE = 15_000


def chromium() -> str:
    """The system's browser; without one the run fails with the line that says how to get it."""
    found = next((path for name in BROWSERS if (path := shutil.which(name))), "")
    assert found, NO_BROWSER
    return found


def open_browser(playwright: Playwright) -> Browser:
    as_root = ["--no-sandbox"] if os.geteuid() == 0 else []
    return playwright.chromium.launch(executable_path=chromium(), args=[*FLAGS, *as_root])


def wait_until(true: Callable[[], bool], *, seconds: float, what: str) -> None:
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until, f"{what}: not within {seconds} seconds; outbox: {outbox()}"
        time.sleep(0.05)


def outbox() -> list[str]:
    """What a failed wait shows: kind, state, when due and what went wrong of every notice."""
    rows = models.Notice.objects.order_by("due_at")
    return [f"{row.kind} {row.state} {row.due_at:%d %H:%M:%S.%f} {row.trouble}" for row in rows]


STICKS_OUT = """
[...document.querySelectorAll("body *")].filter(one => one.getBoundingClientRect().right > innerWidth + 1)
  .map(one => `${one.tagName}.${one.className} to ${Math.round(one.getBoundingClientRect().right)} of ${innerWidth}`)
"""


class Device:
    """A browser window of one person on one device, that keeps what it saw and complains of what a page did wrong."""

    def __init__(self, context: BrowserContext, home: str, album: Path, name: str) -> None:
        self.context, self.home, self.album, self.name = context, home, album, name
        self.page: Page = context.new_page()
        self.page.set_default_timeout(PATIENCE)
        self.wrong: list[str] = []
        self.page.on("pageerror", lambda error: self.wrong.append(f"script: {error}"))
        self.page.on("console", self._hear)
        self.page.on("response", self._look)

    def _hear(self, message: Any) -> None:
        if "Content Security" in message.text or "Refused to" in message.text:
            self.wrong.append(f"policy: {message.text}")

    def _look(self, response: Any) -> None:
        if response.status >= 500:
            self.wrong.append(f"{response.status} at {response.url}")

    def go(self, path: str) -> Page:
        self.page.goto(path if path.startswith("http") else f"{self.home}{path}")
        return self.page

    def log_in(self, email: str, password: str = PASSWORD) -> Page:
        self.go("/login/")
        self.page.fill("#id_username", email)
        self.page.fill("#id_password", password)
        self.page.get_by_role("button", name="Sign in").click()
        expect(self.page).not_to_have_url(f"{self.home}/login/")
        return self.page

    def keep(self, step: str, *, everywhere: bool = False) -> None:
        """A picture of this step, in this device's size or in all three; no page may scroll sideways in any."""
        own = self.page.viewport_size
        assert own is not None
        for name, (width, height) in SIZES.items():
            if everywhere or (width, height) == (own["width"], own["height"]):
                self.page.set_viewport_size({"width": width, "height": height})
                self._shoot(f"{step}-{name}")
        self.page.set_viewport_size(own)

    def _shoot(self, name: str) -> None:
        # A window that has just changed its size may be measured before the browser has laid the page out for it.
        until = time.monotonic() + 2
        while self.overflow() > 0 and time.monotonic() < until:
            time.sleep(0.05)
        assert self.overflow() <= 0, f"{name} scrolls sideways: {self.page.evaluate(STICKS_OUT)}"
        self.album.mkdir(parents=True, exist_ok=True)
        self.page.screenshot(path=self.album / f"{name}.png", full_page=True)

    def overflow(self) -> int:
        """Pixels by which the page is wider than its window."""
        return int(self.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))

    def close(self) -> None:
        self.context.close()


@dataclass
class Stage:
    """Everything that runs; `at` moves the clock of the web server and of the worker."""

    browser: Browser
    post: PostOffice
    home: str
    album: Path
    devices: list[Device] = field(default_factory=list)
    _clock: Any = None
    _worker: subprocess.Popen[bytes] | None = None

    def device(self, name: str, size: str = "screen", *, touch: bool = False) -> Device:
        width, height = SIZES[size]
        context = self.browser.new_context(
            viewport={"width": width, "height": height}, has_touch=touch, reduced_motion="reduce", locale="en-GB"
        )
        made = Device(context, self.home, self.album, name)
        self.devices.append(made)
        return made

    def at(self, moment: datetime) -> None:
        """From here on it is this time, and time goes on. A worker that runs is started anew on the same clock."""
        if self._clock:
            self._clock.stop()
        self._clock = time_machine.travel(moment, tick=True)
        self._clock.start()
        # The travelled clock goes on from when it is first asked.
        time.time()
        if self._worker:
            self.end_worker()
            self.start_worker()

    def start_worker(self) -> None:
        ahead = time.time() - time_machine.escape_hatch.time.time()
        (self.album / "worker").mkdir(parents=True, exist_ok=True)
        with (self.album / "worker" / f"{datetime.now():%m-%d-%H-%M-%S}.log").open("wb") as log:
            self._worker = subprocess.Popen(
                [sys.executable, "-m", "tests.journeys.worker", str(ahead), PREFIX],
                cwd=ROOT,
                env=os.environ | self._addresses(),
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        wait_until(self._worker_listens, seconds=60, what="the worker listens")

    def _addresses(self) -> dict[str, str]:
        kept = connection.settings_dict
        return {
            "DATABASE_URL": f"postgres://{kept['USER']}:{kept['PASSWORD']}@{kept['HOST']}:{kept['PORT']}/{kept['NAME']}",
            "REDIS_URL": settings.REDIS_URL,
            "EMAIL_URL": self.post.url,
            "PUBLIC_ADDRESS": self.home,
            "DJANGO_SETTINGS_MODULE": "studio.settings",
        }

    def _worker_listens(self) -> bool:
        assert self._worker and self._worker.poll() is None, "the worker has ended; its log is in var/journeys"
        with redis.Redis.from_url(settings.REDIS_URL) as server:
            return any(one["cmd"].startswith("brpop") for one in server.client_list() if one["db"] == self._broker_db())

    def _broker_db(self) -> str:
        return str(redis.ConnectionPool.from_url(settings.REDIS_URL).connection_kwargs.get("db", 0))

    def end_worker(self) -> None:
        if self._worker and self._worker.poll() is None:
            os.killpg(self._worker.pid, signal.SIGTERM)
            try:
                self._worker.wait(10)
            except subprocess.TimeoutExpired:
                os.killpg(self._worker.pid, signal.SIGKILL)
                self._worker.wait()
        self._worker = None

    def tick(self, task: str) -> None:
        """Send a task as the beat does, through the broker; the worker picks it up."""
        current_app.send_task(task)

    def letter(self, address: str, *, subject: str = "") -> EmailMessage:
        """The newest letter to an address, once it has arrived."""

        def arrived() -> list[EmailMessage]:
            return [one for one in self.post.to(address) if subject.lower() in str(one["Subject"]).lower()]

        wait_until(lambda: bool(arrived()), seconds=20, what=f"a letter to {address}")
        return arrived()[-1]

    def close(self) -> None:
        # The whole browser, not its windows only: it would keep lines to the server open, and they its database.
        self.browser.close()
        self.end_worker()
        if self._clock:
            self._clock.stop()


def words_of(letter: EmailMessage) -> str:
    body = letter.get_body(("plain",))
    assert body is not None
    return str(body.get_content())


def link_in(letter: EmailMessage) -> str:
    return next(word for word in words_of(letter).split() if word.startswith("http"))


@contextmanager
def set_stage(browser: Browser, album: str) -> Iterator[Stage]:
    """An empty house with its servers; whatever the journey wrote is gone afterwards."""
    with ExitStack() as stack:
        call_command("flush", verbosity=0, interactive=False)
        # In the driver's event loop this thread has a connection of its own beside the usual one.
        stack.callback(connections.close_all)
        stack.callback(call_command, "flush", verbosity=0, interactive=False)
        post = PostOffice()
        post.open()
        stack.callback(post.close)
        server = LiveServerThread("127.0.0.1", StaticFilesHandler, port=0)
        server.daemon = True
        server.start()
        server.is_ready.wait()
        assert not server.error, server.error
        stack.callback(server.terminate)
        home = f"http://127.0.0.1:{server.port}"
        stack.enter_context(override_settings(PUBLIC_ADDRESS=home))
        folder = ALBUM / album
        shutil.rmtree(folder, ignore_errors=True)
        stage = Stage(browser, post, home, folder)
        stack.callback(stage.close)
        yield stage
