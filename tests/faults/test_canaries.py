"""Words about a body, followed everywhere: told on the real form, they stand in no table, log, queue, mail or file.

A web server and a worker of their own, a broker and a mail server of this test alone. Each free-text field of the form
is given a word that is found nowhere else, and so are the notes and letters of the staff. Afterwards the client is
erased, and nothing that is left holds or opens anything of hers, not even a backup of before.
"""

import asyncio
import base64
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
import redis
from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import connection, connections
from django.urls import reverse
from django.utils import timezone

from clients import actions, models
from clients.actions import letterbox, readings, restrictions
from clients.rules import Pressure
from clients.rules.form import Field, FieldKind
from clients.rules.readings import Sitting
from clients.rules.terms import Entered
from programming import actions as program_actions
from studio import models as studio_models
from studio.embedded import free_port
from studio.rules import Role
from tests import make, papers
from tests import make_programming as practice
from tests.clients.test_reachable import words as calm_words
from tests.faults.outside import Outside
from tests.faults.test_notices import Broker, wait_until
from tests.make_programming import LESSON
from tests.post import PostOffice
from tests.studio.test_access import routes

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]

ROOT = Path(__file__).resolve().parent.parent.parent
OWN_ROUTES = {"studio", "clients", "scheduling", "programming"}
TABLES = "SELECT quote_ident(table_name) FROM information_schema.tables WHERE table_schema = 'public'"
NAME, ADDRESS = "Quillon Varndish", "quillon.varndish@post.example"
# What opens the boxes for own words; where own words alone are wanted, nothing has to be chosen.
TOLD: dict[str, list[str]] = {
    "H03": ["yes"],
    "H03.conditions": ["sugar_other"],
    "H05": ["high"],
    "H05.treated": ["yes"],
    "H05.controlled": ["yes"],
    "H06": ["yes"],
    "H06.conditions": ["C55"],
    "H07": ["yes"],
    "H07.where": ["lower_back"],
    "H07.conditions": ["C61"],
    "H08": ["yes"],
    "H08.conditions": ["other"],
    "H10": ["yes"],
    "H10.conditions": ["other"],
    "H12": ["yes"],
    "H12.conditions": ["C42"],
    "H14": ["yes"],
    "H14.conditions": ["C24"],
    "H15": ["yes"],
    "H13": ["pregnant"],
    "H13.due": [(timezone.now() + timedelta(days=180)).date().isoformat()],
    "H16": ["leave_out"],
    "H16.terms": ["other"],
}


FAULTS = (
    (
        "ALTER TABLE clients_healthform ADD CONSTRAINT nothing_is_kept CHECK (saves < 0) NOT VALID",
        "ALTER TABLE clients_healthform DROP CONSTRAINT nothing_is_kept",
    ),
    ("ALTER TABLE studio_auditentry RENAME TO away", "ALTER TABLE away RENAME TO studio_auditentry"),
)


@dataclass
class Canaries:
    """Words that were told, each once, by where they were told."""

    words: dict[str, str] = field(default_factory=dict)
    raw: dict[str, bytes] = field(default_factory=dict)

    def fresh(self, where: str) -> str:
        """A word of this place alone, with nothing in it that an escape would change."""
        word = f"zemblanity{len(self.words):02d}{where.replace('.', '').replace('_', '').lower()}"
        self.words[where] = word
        return word

    def in_text(self, text: str) -> list[str]:
        """Where the words come from that stand in a text, plainly, as hex or as base64."""
        return [where for where, word in self.words.items() if any(one in text for one in _spelled(word.encode()))]

    def in_bytes(self, content: bytes) -> list[str]:
        told = [where for where, word in self.words.items() if _stands(word, content)]
        kept = [where for where, piece in self.raw.items() if piece in content or piece.hex().encode() in content]
        return told + kept


def _stands(word: str, content: bytes) -> bool:
    return any(one.encode() in content for one in _spelled(word.encode()))


def _spelled(word: bytes) -> tuple[str, ...]:
    """A word as it stands in a text, in a dump of bytes, and in base64 (its middle, whatever stood before it)."""
    shifted = [base64.b64encode(b"x" * pad + word)[4:-4].decode() for pad in range(3)]
    return (word.decode(), word.hex(), *shifted)


@dataclass
class House:
    """The processes of one run, and where their words go."""

    home: str
    folder: Path
    environment: dict[str, str]
    broker: Broker
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def start(self, name: str, *command: str) -> subprocess.Popen[bytes]:
        with (self.folder / f"{name}.log").open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, *command],
                cwd=ROOT,
                env=self.environment,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        self.processes.append(process)
        return process

    def start_web(self) -> None:
        bind = self.home.removeprefix("http://")
        self.start(
            "web", "-m", "gunicorn", "studio.wsgi", "--bind", bind, "--worker-class", "gthread", "--threads", "2",
            "--access-logfile", "-", "--capture-output", "--no-control-socket",
        )  # fmt: skip
        wait_until(self._answers, seconds=60)

    def start_worker(self) -> None:
        self.start(
            "worker", "-m", "celery", "-A", "studio.celery", "worker", "--concurrency", "1", "--loglevel", "INFO"
        )

    def _answers(self) -> bool:
        try:
            return Outside(self.home).get("/healthz").status == 200
        except OSError:
            return False

    def stop(self) -> None:
        for process in self.processes:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()

    def run(self, *command: str, **more: str) -> str:
        done = subprocess.run(
            [sys.executable, *command],
            cwd=ROOT,
            env=self.environment | more,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def logs(self) -> str:
        return "\n".join(path.read_text(errors="replace") for path in self.folder.glob("*.log"))

    def in_broker(self) -> bytes:
        """Every key and value of the broker and the cache as it would be written to a disk."""
        with redis.Redis.from_url(self.broker.url) as server:
            return b"\n".join(key + b" " + (server.dump(key) or b"") for key in server.keys("*"))


def address_of_database(name: str = "") -> str:
    known = connection.settings_dict
    return f"postgres://{known['USER']}:{known['PASSWORD']}@{known['HOST']}:{known['PORT']}/{name or known['NAME']}"


@pytest.fixture
def running(tmp_path: Path, post_office: PostOffice, settings: Any) -> Iterator[House]:
    settings.FILES_DIR, settings.ERASED_LIST = tmp_path / "files", tmp_path / "list" / "erased.jsonl"
    (tmp_path / "broker").mkdir()
    broker = Broker(tmp_path / "broker")
    broker.start()
    port = free_port()
    environment = os.environ | {
        "DATABASE_URL": address_of_database(),
        "REDIS_URL": broker.url,
        "EMAIL_URL": post_office.url,
        "DJANGO_SETTINGS_MODULE": "tests.faults.plain_static",
        "PUBLIC_ADDRESS": f"http://127.0.0.1:{port}",
        "FILES_DIR": str(settings.FILES_DIR),
        "ERASED_LIST": str(settings.ERASED_LIST),
    }
    made = House(f"http://127.0.0.1:{port}", tmp_path, environment, broker)
    yield made
    made.stop()
    broker.stop()


# --- telling ---------------------------------------------------------------------------------------------------------


def posted(asked: Field, canaries: Canaries) -> list[str]:
    if asked.kind is FieldKind.TEXT:
        return [canaries.fresh(asked.id)]
    return calm_words(asked, {key: list(value) for key, value in TOLD.items()})


def fill_in(outside: Outside, token: str, canaries: Canaries) -> None:
    """Go through the form screen by screen, over the wire; each box for own words gets a word of its own."""
    seen: set[str] = set()
    while True:
        opened = actions.open_form(token, now=timezone.now())
        screen = next((one for one in opened.due if one.id not in seen), None)
        if screen is None:
            return
        seen.add(screen.id)
        fields = {one.id: posted(one, canaries) for one in screen.fields}
        answer = outside.post(reverse("clients:form-screen", args=[token, screen.id]), fields)
        after = actions.open_form(token, now=timezone.now())
        assert answer.status == 200 and after.saves > opened.saves, f"{screen.id}: {words_of(answer.body)}"


def words_of(body: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", body).split())[-600:]


def fail_while_saving(outside: Outside, token: str, canaries: Canaries) -> None:
    """The database refuses the very row, whose message quotes what it refused; then a table is away."""
    screen = next(one for one in actions.open_form(token, now=timezone.now()).due if one.id == "H18")
    path = reverse("clients:form-screen", args=[token, screen.id])
    words = [canaries.fresh("refused")]
    fields = {one.id: words if one.kind is FieldKind.TEXT else calm_words(one, {}) for one in screen.fields}
    for statement, undone in FAULTS:
        outside.get(path)
        with connection.cursor() as cursor:
            cursor.execute(statement)
            try:
                answer = outside.post_once_more(path, fields)
            finally:
                cursor.execute(undone)
        assert answer.status == 500
        assert canaries.in_text(answer.body) == []


def teach(lesson: practice.Lesson, canaries: Canaries) -> None:
    """A lesson begun, with a note on it and one on its first line."""
    log = lesson.mark(lesson.place.programs.get(replaced_at=None).lines.exclude(decision="left_out")[0].pk).log
    program_actions.note_log(log.pk, note=canaries.fresh("note"), by=lesson.teacher, now=LESSON)
    line = log.lines.get().program_line_id
    program_actions.note_log(log.pk, note=canaries.fresh("line_note"), by=lesson.teacher, now=LESSON, line_id=line)


def note_down(lesson: practice.Lesson, owner: studio_models.Person, canaries: Canaries) -> None:
    """What the staff adds: a reading, own words put into movements, a letter with its terms."""
    client, now = lesson.client, timezone.now()
    why = "covers today"
    sitting = Sitting(pressures=(Pressure(121, 79), Pressure(119, 78)), heart_rate=67)
    readings.record_readings(client.pk, sitting=sitting, by=lesson.teacher, now=now, why=why)
    terms = restrictions.Terms(frozenset({"prone"}), is_own_words=True)
    assert restrictions.restrict(client.pk, terms=terms, by=lesson.teacher, now=now, why=why)
    paper = papers.pdf(f"Dear studio, {canaries.fresh('letter_paper')}.")
    canaries.raw["letter file"] = paper[len(paper) // 2 :][:48]
    letter = letterbox.hand_in(client.pk, pages=[paper], routed_to=lesson.teacher.pk, by=owner, now=now)
    entered = Entered(
        clinician=canaries.fresh("clinician"),
        profession="physiotherapist",
        dated=now.date() - timedelta(days=3),
        forbids=frozenset({"ext_end"}),
        words=canaries.fresh("letter_words"),
    )
    letterbox.confirm_letter(letter.pk, entered=entered, by=lesson.teacher, now=now, why=why)


# --- looking ---------------------------------------------------------------------------------------------------------


def every_table() -> str:
    """Every row of every table of the database as text, whether or not a model knows it."""
    return rows_of(connection.settings_dict["NAME"])


def dumped() -> bytes:
    """The database as the server's own tool writes it, where it is installed and not older than the server."""
    tool = shutil.which("pg_dump")
    if tool is None:
        return b""
    made = subprocess.run([tool, "--inserts", address_of_database()], capture_output=True, timeout=120, check=False)
    return made.stdout


def files_in(folder: Path) -> bytes:
    return b"\n".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def sessions() -> str:
    return json.dumps([one.get_decoded() for one in Session.objects.all()], default=str, ensure_ascii=False)


def mails(office: PostOffice) -> str:
    return "\n".join(f"{letter.as_string()}\n{letter.get_content()}" for letter in office.letters)


def hiding_places(running: House, office: PostOffice, canaries: Canaries) -> dict[str, list[str]]:
    """Which told words stand where; empty when they are sealed everywhere."""
    found = {
        "tables": canaries.in_text(every_table()),
        "dump": canaries.in_bytes(dumped()),
        "logs": canaries.in_text(running.logs()),
        "broker and cache": canaries.in_bytes(running.in_broker()),
        "mails": canaries.in_text(mails(office)),
        "files": canaries.in_bytes(files_in(running.folder)),
        "sessions": canaries.in_text(sessions()),
    }
    return {place: words for place, words in found.items() if words}


def hidden(outside: Outside, token: str) -> dict[str, list[str]]:
    """What the card's form carries unseen."""
    body = outside.get(reverse("clients:form-card", args=[token])).body
    return {name: re.findall(rf'name="{name}" value="([^"]*)"', body)[:1] for name in ("saves", "rules_id")}


def tell(running: House, client: models.Client, canaries: Canaries) -> None:
    """The client's own words, from her own device, and a fault on the way."""
    token = actions.make_form_link(client.pk, by=None, now=timezone.now()).token
    outside = Outside(running.home)
    fill_in(outside, token, canaries)
    fail_while_saving(outside, token, canaries)
    given = {"name": [NAME], "signed_as": ["client"], "messages": ["yes"], "touch": ["yes"]}
    signed = outside.post(reverse("clients:form-card", args=[token]), hidden(outside, token) | given)
    assert signed.url.endswith("/signed/"), words_of(signed.body)
    assert [one.url for one in outside.answers if not one.is_kept_by_nobody] == []


@pytest.fixture
def owner(db: None) -> studio_models.Person:
    return make.person(Role.OWNER, Role.DESK, name="Teodora Quist", email="teodora@studio.example")


@pytest.fixture
def lesson(db: None) -> practice.Lesson:
    practice.load()
    make.business()
    made = practice.lesson(told=practice.BONES)
    made.assign()
    actions.change_client(made.client.pk, by=None, now=LESSON, name=NAME, email=ADDRESS, born_on=None, home_id=None)
    return made


def signed_in(running: House, person: studio_models.Person) -> Outside:
    there = Outside(running.home)
    answer = there.post("/login/", {"username": [person.email], "password": [make.PASSWORD]})
    assert answer.status == 200 and "/login/" not in answer.url
    return there


def backup(running: House) -> str:
    """A copy of the database as it is, under a name of its own; nobody may be connected while it is made."""
    running.stop()
    connections.close_all()
    # A browser test before this one may have left the connection that this thread has inside an event loop.
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
        asyncio.run(close_all_inside_a_loop())
    name = f"{connection.settings_dict['NAME']}_backup"
    with psycopg.connect(address_of_database("postgres"), autocommit=True) as line:
        line.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")  # type: ignore[call-overload]
        line.execute(f"CREATE DATABASE {name} TEMPLATE {connection.settings_dict['NAME']}")  # type: ignore[call-overload]
    return name


async def close_all_inside_a_loop() -> None:
    connections.close_all()


def rows_of(database: str) -> str:
    with psycopg.connect(address_of_database(database)) as line:
        found = []
        for (table,) in line.execute(TABLES).fetchall():
            rows = line.execute(f"SELECT row_to_json(t)::text FROM {table} t").fetchall()  # type: ignore[call-overload]
            found += [f"{table} {text}" for (text,) in rows]
    return "\n".join(found)


def test_words_about_a_body_are_sealed_everywhere_and_gone_everywhere_when_erased(
    running, post_office, lesson, owner, tmp_path
):
    canaries, client = Canaries(), lesson.client
    running.start_web()
    teach(lesson, canaries)
    tell(running, client, canaries)
    note_down(lesson, owner, canaries)
    # What is looked for is really there: whoever may read reads every word again.
    told = actions.export_client(client.pk, why="asked at the desk", by=owner, now=timezone.now())
    kept = json.dumps(told.record)
    assert [where for where, word in canaries.words.items() if word not in kept] == ["refused", "letter_paper"]
    assert canaries.raw["letter file"] in told.files[0][1]
    assert len(canaries.words) >= 24

    desk = signed_in(running, owner)
    card = reverse("clients:card", args=[client.pk])
    assert desk.post(reverse("clients:send-form", args=[client.pk]), {}, shown_on=card).status == 200
    assert hiding_places(running, post_office, canaries) == {}
    running.start_worker()
    wait_until(lambda: bool(post_office.to(ADDRESS)), seconds=60)
    assert hiding_places(running, post_office, canaries) == {}
    logs = running.logs()
    assert "nothing_is_kept" in logs and "send_due_notices" in logs
    assert NAME not in logs and ADDRESS not in logs and NAME.encode() not in running.in_broker()

    copy = backup(running)
    running.start_web()
    desk = signed_in(running, owner)
    given = {"typed": [NAME], "why": ["asked for in writing"], "password": [make.PASSWORD]}
    erased = desk.post(reverse("clients:erase", args=[client.pk]), given)
    assert "Erased client" in words_of(erased.body)
    assert gone(every_table() + sessions() + running.logs(), canaries) == []
    assert not any(path.is_file() for path in (tmp_path / "files").rglob("*"))
    assert gone(running.in_broker().decode("latin-1"), canaries) == []

    environment = {"DATABASE_URL": address_of_database(copy)}
    assert NAME in rows_of(copy)
    running.run("manage.py", "prepare", "--no-demo", **environment)
    restored = rows_of(copy)
    assert gone(restored, canaries) == []
    assert re.search(rf'"id":"{client.pk}","name":"Erased client [A-Z]{{4}}"', restored)
    with psycopg.connect(address_of_database("postgres"), autocommit=True) as line:
        line.execute(f"DROP DATABASE {copy} WITH (FORCE)")  # type: ignore[call-overload]


def gone(text: str, canaries: Canaries) -> list[str]:
    """Of what named or told of the erased client: what is still there."""
    return [*canaries.in_text(text), *(word for word in (NAME, ADDRESS) if word in text)]


def test_a_word_that_stands_somewhere_in_plain_is_found_however_it_is_spelled(lesson):
    canaries = Canaries()
    word = canaries.fresh("notes")
    models.Client.objects.filter(pk=lesson.client.pk).update(notes=f"she says {word} twice")
    assert canaries.in_text(every_table()) == ["notes"]
    assert not dumped() or canaries.in_bytes(dumped()) == ["notes"]
    for pad in ("", "x", "xx"):
        assert canaries.in_text(base64.b64encode(f"{pad}{word} and more".encode()).decode()) == ["notes"]
    assert canaries.in_text(word.encode().hex()) == ["notes"]
    assert canaries.in_text("nothing of it") == []


def test_no_admin_site_and_no_page_of_another_program_shows_health():
    installed = {one.name for one in apps.get_app_configs()}
    assert "django.contrib.admin" not in installed
    assert [route.name for route in routes() if route.name.partition(":")[0] not in OWN_ROUTES] == []
