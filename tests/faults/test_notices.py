"""The outbox when things die: real workers and beats, a real broker that goes away, kills at every step.

Each test has its own broker and its own mail server; workers are processes of their own against the test database.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path

import pytest
import redis
from django.db import connection
from django.utils import timezone

from studio import embedded, models
from studio.actions import notices
from tests import make
from tests.post import PostOffice

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]

State = models.Notice.State
ROOT = Path(__file__).resolve().parent.parent.parent
# The product's beat, but with a tick a second instead of a minute, so that two of them collide often in a short test.
QUICK_BEAT = """
import sys
from studio.celery import app
app.conf.beat_schedule = {"send due notices": {"task": "studio.tasks.send_due_notices", "schedule": 1.0}}
app.Beat(schedule=sys.argv[1], loglevel="WARNING", quiet=True, max_interval=1).run()
"""

# Puts a notice the way a page does, and fails when the commit with its wake-up takes a second or more: the promise in
# operations is that a booking answers within a second although the broker is away.
PUT = """
import sys, time
import django
django.setup()
from django.db import transaction
from django.utils import timezone
from studio import models
from studio.actions import notices
contact, now = models.Contact.objects.get(pk=sys.argv[1]), timezone.now()
started = time.monotonic()
with transaction.atomic():
    notices.put(kind="form_link", contact=contact, values={}, about="x:1", due_at=now, now=now, once="form:1")
sys.exit(time.monotonic() - started >= 1)
"""


class Broker:
    """A Redis-protocol server of this test alone, that can be stopped and started on the same port."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, embedded.free_port()
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        home = embedded.Home(data=self.folder, place=self.folder, programs=embedded._site(), account=None)
        command = [home.valkey_program(), "--port", str(self.port), "--bind", "127.0.0.1", "--save", ""]
        self.process = subprocess.Popen(command, cwd=self.folder, stdout=subprocess.DEVNULL)
        wait_until(self.answers, seconds=10)

    def answers(self) -> bool:
        try:
            with redis.Redis(port=self.port, socket_timeout=1) as server:
                return bool(server.ping())
        except redis.ConnectionError:
            return False

    def flush(self) -> None:
        with redis.Redis(port=self.port) as server:
            server.flushall()

    def stop(self) -> None:
        if self.process:
            self.process.kill()
            self.process.wait()
        self.process = None


def wait_until(true: Callable[[], bool], *, seconds: float) -> None:
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until, "it did not come true in time"
        time.sleep(0.05)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    made = Broker(tmp_path)
    made.start()
    yield made
    made.stop()


@pytest.fixture
def run(broker: Broker, post_office: PostOffice, tmp_path: Path) -> Iterator[Callable[..., subprocess.Popen[bytes]]]:
    """Start a process of the product against the test database; whatever still runs is ended afterwards."""
    database = connection.settings_dict
    address = f"{database['USER']}:{database['PASSWORD']}@{database['HOST']}:{database['PORT']}"
    environment = os.environ | {
        "DATABASE_URL": f"postgres://{address}/{database['NAME']}",
        "REDIS_URL": broker.url,
        "EMAIL_URL": post_office.url,
        "DJANGO_SETTINGS_MODULE": "studio.settings",
    }
    with ExitStack() as stack:

        def start(*command: str, **more: str) -> subprocess.Popen[bytes]:
            log = stack.enter_context((tmp_path / f"log-{time.monotonic_ns()}").open("wb"))
            process = subprocess.Popen(
                [sys.executable, *command],
                cwd=ROOT,
                env=environment | more,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
            stack.callback(end, process)
            return process

        yield start


def end(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def worker(name: str) -> list[str]:
    command = ["-m", "celery", "-A", "studio.celery", "worker", "--concurrency", "1", "--hostname", f"{name}@test"]
    return [*command, "--loglevel", "WARNING", "--without-gossip", "--without-mingle"]


def due(count: int) -> None:
    now = timezone.now()
    for _ in range(count):
        make.notice(due_at=now, made_at=now)


def sent() -> int:
    return models.Notice.objects.filter(state=State.SENT).count()


def ids(office: PostOffice) -> list[str]:
    return [letter["Message-ID"] for letter in office.letters]


def test_two_beats_and_four_workers_send_a_hundred_letters_once_also_when_a_worker_is_killed_and_the_broker_forgets(
    run, broker, post_office, tmp_path
):
    due(100)
    beats = [run("-c", QUICK_BEAT, str(tmp_path / f"beat-{number}")) for number in (1, 2)]
    killed, *others = [run(*worker(f"w{number}")) for number in range(4)]
    wait_until(lambda: sent() >= 10, seconds=40)
    os.killpg(killed.pid, signal.SIGKILL)
    broker.flush()
    wait_until(lambda: not models.Notice.objects.filter(state=State.WAITING).exists(), seconds=30)
    stop_kindly([*beats, *others])
    # What the killed worker had claimed is free again once its two minutes are over.
    notices.send_due(now=timezone.now() + timedelta(minutes=3), limit=100)
    unsure = models.Notice.objects.filter(state=State.UNSURE).count()
    assert len(set(ids(post_office))) == len(ids(post_office))
    assert sent() + unsure == 100
    assert unsure <= 1
    assert sent() <= len(post_office.letters) <= 100


def stop_kindly(processes: list[subprocess.Popen[bytes]]) -> None:
    for process in processes:
        process.terminate()
    for process in processes:
        process.wait(20)


def test_undisturbed_two_beats_and_two_workers_send_exactly_a_hundred_letters(run, post_office, tmp_path):
    for number in (1, 2):
        run("-c", QUICK_BEAT, str(tmp_path / f"beat-{number}"))
    for number in range(2):
        run(*worker(f"w{number}"))
    due(100)
    wait_until(lambda: sent() == 100, seconds=40)
    assert len(ids(post_office)) == len(set(ids(post_office))) == 100


@pytest.mark.parametrize(
    ("step", "letters", "state"),
    [("claimed", 1, State.SENT), ("sending", 0, State.UNSURE), ("answered", 1, State.UNSURE)],
)
def test_a_kill_at_any_step_never_sends_a_letter_twice_nor_loses_it_unseen(run, post_office, step, letters, state):
    due(1)
    killed = run("manage.py", "send_notices", "--once", NOTICE_KILL_AT=step)
    assert killed.wait(30) == -signal.SIGKILL
    for minutes in range(0, 12, 3):
        notices.send_due(now=timezone.now() + timedelta(minutes=minutes))
    assert (len(post_office.letters), models.Notice.objects.get().state) == (letters, state)


def test_a_broker_that_is_gone_delays_nobody_and_the_letter_leaves_without_it(run, broker, post_office):
    contact = make.contact()
    broker.stop()
    assert run("-c", PUT, str(contact.pk)).wait(30) == 0
    assert models.Notice.objects.get().state == State.WAITING
    assert run("manage.py", "send_notices", "--once").wait(30) == 0
    assert (sent(), len(post_office.letters)) == (1, 1)


def test_a_worker_goes_on_after_the_broker_was_restarted_under_it(run, broker, post_office, tmp_path):
    run("-c", QUICK_BEAT, str(tmp_path / "beat"))
    run(*worker("w"))
    due(1)
    wait_until(lambda: sent() == 1, seconds=30)
    broker.stop()
    due(1)
    broker.start()
    wait_until(lambda: sent() == 2, seconds=40)
    assert len(post_office.letters) == 2


def test_a_notice_put_by_another_process_wakes_a_worker_without_any_beat(run, broker, post_office):
    run(*worker("w"))
    wait_until(lambda: worker_listens(broker), seconds=30)
    assert run("-c", PUT, str(make.contact().pk)).wait(30) == 0
    wait_until(lambda: sent() == 1, seconds=10)


def worker_listens(broker: Broker) -> bool:
    with redis.Redis(port=broker.port) as server:
        return any(client["cmd"].startswith("brpop") for client in server.client_list())
