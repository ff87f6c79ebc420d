"""`manage.py serve` in a checkout of its own: it opens, says where, and leaves nothing behind however it ends."""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest

from studio import embedded

pytestmark = pytest.mark.faults

HERE = Path(__file__).resolve().parent.parent.parent
NOT_OURS = shutil.ignore_patterns(
    ".venv", "var", ".git", "__pycache__", "tests", ".*_cache", ".hypothesis", "staticfiles"
)


class House:
    """A copy of the checkout, served from an empty database of the server this run has."""

    def __init__(self, folder: Path, database: str) -> None:
        shutil.copytree(HERE, folder, ignore=NOT_OURS)
        self.folder = folder
        self.log = folder / "said.txt"
        self.environment = os.environ | {"DATABASE_URL": database}
        self.process: subprocess.Popen[bytes] | None = None

    def serve(self, *options: str) -> subprocess.Popen[bytes]:
        with self.log.open("wb") as out:
            self.process = subprocess.Popen(
                [sys.executable, "manage.py", "serve", "--no-demo", *options],
                cwd=self.folder,
                env=self.environment,
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=subprocess.STDOUT,
            )
        return self.process

    def said(self) -> str:
        return self.log.read_text()

    def address(self) -> str:
        """The address it prints once it answers."""
        until = time.monotonic() + 120
        while not (found := re.search(r"open at (http://\S+)", self.said())):
            assert self.process is not None
            assert self.process.poll() is None, self.said()
            assert time.monotonic() < until, self.said()
            time.sleep(0.1)
        return found.group(1)

    def children(self) -> list[int]:
        """Every living process that was started from this folder's notes, with those they started."""
        groups = {
            int(pid)
            for note in self.folder.glob("var/serving.*.json")
            for pid in re.findall(r'"(\d+)"', note.read_text())
        }
        table = subprocess.run(["ps", "-A", "-o", "pid=,pgid="], capture_output=True, text=True, check=True).stdout
        return [pid for pid, group in (map(int, line.split()) for line in table.splitlines()) if group in groups]

    def end(self) -> None:
        if self.process and self.process.poll() is None:
            self.process.terminate()
            self.process.wait(60)


def alive(pids: list[int]) -> list[int]:
    return [pid for pid in pids if embedded.command_line(pid)]


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    name = f"serve_{os.getpid()}"
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as line:
        line.execute(f"CREATE DATABASE {name}")  # type: ignore[call-overload]
        made = House(tmp_path / "house", urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{name}").geturl())
        yield made
        made.end()
        line.execute(f"DROP DATABASE {name} WITH (FORCE)")  # type: ignore[call-overload]


def test_an_empty_house_opens_says_where_and_leaves_nothing_behind(house):
    for number in (signal.SIGINT, signal.SIGTERM):
        process = house.serve("--port", str(embedded.free_port()))
        with urllib.request.urlopen(f"{house.address()}/healthz") as answer:
            assert answer.status == 200
        assert "first set-up" in house.said()
        running = house.children()
        assert len(running) >= 3
        process.send_signal(number)
        assert process.wait(60) == 0
        assert alive(running) == []
    kept = [path for path in (house.folder / "var").iterdir() if path.stat().st_mode & 0o077]
    assert kept == []


def test_a_taken_port_is_named_and_the_next_one_used(house):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        house.serve("--port", str(port))
        assert int(house.address().rsplit(":", 1)[1]) > port
        assert f"Port {port} is taken" in house.said()


def test_one_dying_process_ends_the_rest_and_is_named(house):
    process = house.serve("--port", str(embedded.free_port()))
    house.address()
    running = house.children()
    beat = next(pid for pid in running if "beat" in embedded.command_line(pid))
    os.kill(beat, signal.SIGKILL)
    assert process.wait(60) == 1
    assert "beat stopped by itself" in house.said()
    assert "beat: Starting" in house.said()
    assert alive(running) == []


def test_what_a_killed_run_left_behind_is_ended_by_the_next(house):
    process = house.serve("--port", str(embedded.free_port()))
    house.address()
    left = house.children()
    process.kill()
    process.wait()
    assert len(alive(left)) >= 3
    house.serve("--port", str(embedded.free_port()))
    house.address()
    assert alive(left) == []
