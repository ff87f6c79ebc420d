"""The deployment without containers: the very commands of docker-compose.yml, in production mode, on real servers."""

import base64
import os
import re
import secrets
import shlex
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest
import redis
import yaml

from studio.embedded import free_port, last_lines
from studio.rules import first_day

pytestmark = pytest.mark.faults

HERE = Path(__file__).resolve().parent.parent.parent
SERVICES = yaml.safe_load((HERE / "docker-compose.yml").read_text())["services"]
NEEDED = ["SECRET_KEY", "HEALTH_KEY", "ALLOWED_HOSTS", "DATABASE_URL", "REDIS_URL", "EMAIL_URL"]


def with_path(url: str, path: str) -> str:
    return urlsplit(url)._replace(path=f"/{path}").geturl()


def production(database: str, broker: str) -> dict[str, str]:
    """The environment of a deployment, with secrets made for this run."""
    return {key: value for key, value in os.environ.items() if key in ("PATH", "HOME", "LANG")} | {
        "STUDIO_MODE": "production",
        "SECRET_KEY": secrets.token_urlsafe(64),
        "HEALTH_KEY": base64.urlsafe_b64encode(secrets.token_bytes(32)).decode(),
        "ALLOWED_HOSTS": "studio.example",
        "DATABASE_URL": database,
        "REDIS_URL": broker,
        "EMAIL_URL": "smtp://127.0.0.1:25",
        "HOSTNAME": socket.gethostname(),
    }


class Deployment:
    """The services of the compose file as plain processes of this machine."""

    def __init__(self, environment: dict[str, str], folder: Path) -> None:
        self.environment = environment
        self.folder = folder
        self.port = free_port()
        self.started: dict[str, subprocess.Popen[bytes]] = {}

    def here(self, words: list[str]) -> list[str]:
        """A command of the compose file with this machine's interpreter, port and folder."""
        changes = {":8000": f":{self.port}", "0.0.0.0": "127.0.0.1", "/tmp": str(self.folder), "$$": "$"}
        for old, new in changes.items():
            words = [word.replace(old, new) for word in words]
        made = [sys.executable if word == "python" else word for word in words]
        made = [re.sub("^python ", lambda _: f"{shlex.quote(sys.executable)} ", word) for word in made]
        return made

    def once(self, words: list[str]) -> subprocess.CompletedProcess[str]:
        """Run a command of the file to its end; a health check's leading word says how."""
        if words[0] in ("CMD", "CMD-SHELL"):
            words = ["sh", "-c", *words[1:]] if words[0] == "CMD-SHELL" else words[1:]
        return subprocess.run(
            self.here(words), cwd=HERE, env=self.environment, capture_output=True, text=True, timeout=120, check=False
        )

    def start(self, name: str) -> None:
        with self.log(name).open("wb") as out:
            self.started[name] = subprocess.Popen(
                self.here(SERVICES[name]["command"]),
                cwd=HERE,
                env=self.environment,
                stdout=out,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def log(self, name: str) -> Path:
        return self.folder / f"{name}.log"

    def wait_until_healthy(self, name: str) -> None:
        until = time.monotonic() + 60
        while (check := self.once(SERVICES[name]["healthcheck"]["test"])).returncode:
            assert self.started[name].poll() is None, last_lines(self.log(name), 40)
            assert time.monotonic() < until, f"{check.stdout}{check.stderr}{last_lines(self.log(name), 40)}"
            time.sleep(0.2)

    def kill(self) -> None:
        for process in self.started.values():
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()


@pytest.fixture
def database() -> Iterator[str]:
    """An empty database on the server this run has."""
    name = f"processes_{os.getpid()}"
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as line:
        line.execute(f"CREATE DATABASE {name}")  # type: ignore[call-overload]
        yield with_path(os.environ["DATABASE_URL"], name)
        line.execute(f"DROP DATABASE {name} WITH (FORCE)")  # type: ignore[call-overload]


@pytest.fixture
def broker() -> Iterator[str]:
    url = with_path(os.environ["REDIS_URL"], "15")
    yield url
    with redis.Redis.from_url(url) as line:
        line.flushdb()


@pytest.fixture
def deployment(database: str, broker: str, tmp_path: Path) -> Iterator[Deployment]:
    made = Deployment(production(database, broker), tmp_path)
    yield made
    made.kill()


def test_the_deployed_processes_come_up_healthy_and_end_cleanly(deployment):
    prepared = deployment.once(SERVICES["migrate"]["command"])
    assert prepared.returncode == 0, prepared.stdout + prepared.stderr
    assert first_day.code(deployment.environment["SECRET_KEY"]) in prepared.stdout
    for name in ("web", "worker", "beat"):
        deployment.start(name)
    for name in ("web", "worker", "beat"):
        deployment.wait_until_healthy(name)
    for process in deployment.started.values():
        process.terminate()
    ends = {name: process.wait(30) for name, process in deployment.started.items()}
    assert ends == {"web": 0, "worker": 0, "beat": 0}
    for process in deployment.started.values():
        with pytest.raises(ProcessLookupError):
            os.killpg(process.pid, 0)


def test_a_lost_worker_is_noticed_by_its_health_check(deployment):
    assert deployment.once(SERVICES["worker"]["healthcheck"]["test"]).returncode != 0


@pytest.mark.parametrize("name", NEEDED)
def test_production_does_not_start_without(name):
    environment = production("postgres://127.0.0.1/none", "redis://127.0.0.1:1/0")
    del environment[name]
    refused = load_settings(environment)
    assert refused.returncode != 0
    assert name in refused.stderr.splitlines()[-1]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("SECRET_KEY", "changeme" * 8),
        ("SECRET_KEY", "django-insecure-" + secrets.token_urlsafe(64)),
        ("SECRET_KEY", "short"),
        ("HEALTH_KEY", base64.urlsafe_b64encode(bytes(32)).decode()),
        ("HEALTH_KEY", "not base64 at all"),
        ("ALLOWED_HOSTS", " "),
        ("EMAIL_URL", ""),
    ],
)
def test_production_does_not_start_with_a_placeholder(name, value):
    environment = production("postgres://127.0.0.1/none", "redis://127.0.0.1:1/0") | {name: value}
    refused = load_settings(environment)
    assert refused.returncode != 0
    assert name in refused.stderr.splitlines()[-1]


def test_production_starts_with_everything_given():
    assert load_settings(production("postgres://127.0.0.1/none", "redis://127.0.0.1:1/0")).returncode == 0


def load_settings(environment: dict[str, str]) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "import studio.settings"]
    return subprocess.run(command, cwd=HERE, env=environment, capture_output=True, text=True, timeout=60, check=False)
