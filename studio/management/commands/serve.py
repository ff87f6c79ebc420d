"""`manage.py serve`: prepare the studio, then run web, worker and beat until Ctrl-C."""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from studio import embedded, queries

FIRST_PORT = 8000
STOP_SECONDS = 25
ANSWER_SECONDS = 60


@dataclass(frozen=True)
class Child:
    """One of the processes that serve the studio, its log and the group its own children are in."""

    name: str
    command: list[str]
    process: subprocess.Popen[bytes]
    log: Path


def children_commands(port: int) -> dict[str, list[str]]:
    """The three commands, the same as in docker-compose.yml but for the address."""
    python = [sys.executable, "-m"]
    web = ["gunicorn", "studio.wsgi", "--bind", f"127.0.0.1:{port}", "--worker-class", "gthread"]
    worker = ["celery", "-A", "studio.celery", "worker", "--concurrency", "2", "--loglevel", "INFO"]
    beat = ["celery", "-A", "studio.celery", "beat", "--loglevel", "INFO", "--pidfile="]
    return {
        "web": [*python, *web, "--workers", "2", "--threads", "4", "--no-control-socket"],
        "worker": [*python, *worker],
        "beat": [*python, *beat],
    }


class Command(BaseCommand):
    help = "Prepare the studio and run web, worker and beat until Ctrl-C."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=FIRST_PORT, help="the first port to try")
        parser.add_argument("--no-demo", action="store_true", help="leave an empty database empty")

    def handle(self, *, port: int, no_demo: bool, **options: Any) -> None:
        for wanted in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
            signal.signal(wanted, _end)
        # Mails, logs and logins are written below: other accounts of this machine may not read them.
        os.umask(0o077)
        end_leftovers()
        call_command("prepare", no_demo=no_demo)
        self.collect_static()
        port = self.free_port_from(port)
        address = f"http://127.0.0.1:{port}"
        with running(port, address) as children:
            self.greet(address, children)
            watch(children)

    def collect_static(self) -> None:
        digest, stamp = static_digest(), Path(settings.STATIC_ROOT) / "collected.digest"
        if not stamp.exists() or stamp.read_text() != digest:
            self.say("Collecting the static files ...")
            call_command("collectstatic", interactive=False, clear=True, verbosity=0)
            stamp.write_text(digest)

    def free_port_from(self, first: int) -> int:
        for port in range(first, first + 50):
            if port_is_free(port):
                return port
            self.say(f"Port {port} is taken, trying {port + 1}.")
        raise CommandError(f"No free port between {first} and {first + 49}: choose another with PORT=.")

    def greet(self, address: str, children: list[Child]) -> None:
        wait_for_answer(address, children)
        logins = settings.VAR_DIR / "demo_logins.json"
        self.say(f"\n{settings.PRODUCT_NAME} is open at {address}")
        if not queries.is_set_up():
            self.say("The studio is empty: the address leads its owner through the first set-up.")
        elif logins.exists():
            self.say("Demo logins (invented people, passwords made on this machine):")
            for login in json.loads(logins.read_text()):
                self.say("  {role:<12} {name:<22} {email:<34} {password}".format(**login))
        self.say("Ctrl-C ends it. Logs are under var/log.\n")

    def say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()


def _end(number: int, _frame: FrameType | None) -> None:
    # Once is enough: a second Ctrl-C must not cut the tidying short.
    for wanted in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
        signal.signal(wanted, signal.SIG_IGN)
    raise SystemExit(0)


def port_is_free(port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except (OSError, OverflowError):
            return False
    return True


def static_digest() -> str:
    """A digest of every static file's name, size and time: cheaper than collecting them to see nothing changed."""
    seen = hashlib.sha256()
    for finder in get_finders():
        for name, storage in finder.list([]):
            state = Path(storage.path(name)).stat()
            seen.update(f"{name} {state.st_size} {state.st_mtime_ns}\n".encode())
    return seen.hexdigest()


@contextlib.contextmanager
def running(port: int, address: str) -> Iterator[list[Child]]:
    """The three processes while the studio is open; all of them are ended, whatever happens."""
    logs = settings.VAR_DIR / "log"
    logs.mkdir(parents=True, exist_ok=True)
    children: list[Child] = []
    try:
        for name, command in children_commands(port).items():
            children.append(start(name, command, logs / f"{name}.log", address))
            note_children(children)
        yield children
    finally:
        stop(children)
        note_path().unlink(missing_ok=True)


def start(name: str, command: list[str], log: Path, address: str) -> Child:
    with log.open("wb") as out:
        # A session of its own: Ctrl-C reaches this command alone, which then ends its children in good order.
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=subprocess.STDOUT,
            cwd=settings.BASE_DIR,
            env={"PUBLIC_ADDRESS": address} | os.environ,
            start_new_session=True,
        )
    return Child(name, command, process, log)


def wait_for_answer(address: str, children: list[Child]) -> None:
    """Return when the web process answers, at the latest when it should have; a child that died raises."""
    until = time.monotonic() + ANSWER_SECONDS
    while time.monotonic() < until:
        refuse_the_dead(children)
        with contextlib.suppress(OSError), urllib.request.urlopen(f"{address}/healthz", timeout=5):
            return
        time.sleep(0.1)
    web = children[0]
    raise CommandError(f"The studio does not answer. The end of {web.log}:\n{embedded.last_lines(web.log)}")


def watch(children: list[Child]) -> None:
    while True:
        refuse_the_dead(children)
        time.sleep(0.5)


def refuse_the_dead(children: list[Child]) -> None:
    for child in children:
        if (code := child.process.poll()) is not None:
            end = embedded.last_lines(child.log)
            raise CommandError(f"Ended: {child.name} stopped by itself ({code}). The end of {child.log}:\n{end}")


def stop(children: list[Child]) -> None:
    """Ask each process to finish, beat first; what does not in time is killed with everything it started."""
    for child in reversed(children):
        if child.process.poll() is None:
            child.process.terminate()
    until = time.monotonic() + STOP_SECONDS
    for child in children:
        with contextlib.suppress(subprocess.TimeoutExpired):
            child.process.wait(max(0.1, until - time.monotonic()))
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(child.process.pid, signal.SIGKILL)
        child.process.wait()


def note_path() -> Path:
    path: Path = settings.VAR_DIR / f"serving.{os.getpid()}.json"
    return path


def note_children(children: list[Child]) -> None:
    # What was asked for, not what the process table says: that is empty for a moment after a start.
    asked = {child.process.pid: " ".join(child.command) for child in children}
    note_path().write_text(json.dumps({"children": asked}))


def end_leftovers() -> None:
    """End the children of a run that was killed before it could end them itself."""
    for note in settings.VAR_DIR.glob("serving.*.json"):
        if "serve" in embedded.command_line(int(note.name.split(".")[1])):
            continue
        for pid, command in json.loads(note.read_text())["children"].items():
            if embedded.command_line(int(pid)).strip() == command:
                with contextlib.suppress(ProcessLookupError, PermissionError):
                    os.killpg(int(pid), signal.SIGKILL)
        note.unlink()
