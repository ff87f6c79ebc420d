"""Taking out one client's record: everything is in it, opened; the owner asks with a reason; it is on record."""

import io
import json
import uuid
import zipfile

import pytest
from django.urls import reverse
from pypdf import PdfReader

from clients import actions, models
from clients.actions import seals
from programming import actions as program_actions
from studio.models import AuditEntry
from studio.rules import Refused
from tests import make, make_clients
from tests import make_programming as practice
from tests.make_programming import BONES, LESSON, NOW

pytestmark = pytest.mark.django_db
WHY = "asked for at the desk"
NOTE = "breathes out late on the roll"


def reached(model=models.Client) -> set[str]:
    """Tables with a path to the client, by walking back from it, as somebody else would look for them."""
    found, waiting = {model}, [model]
    while waiting:
        for relation in waiting.pop()._meta.get_fields(include_hidden=True):
            if relation.auto_created and not relation.concrete and relation.related_model not in found:
                found.add(relation.related_model)
                waiting.append(relation.related_model)
    return {one._meta.label_lower for one in found}


@pytest.fixture
def taught(settings, tmp_path):
    """A client with limits who was taught, with a note on the lesson and a letter's file."""
    settings.FILES_DIR = tmp_path / "files"
    practice.load()
    lesson = practice.lesson(told=BONES)
    lesson.assign()
    log = lesson.mark(lesson.place.programs.get().lines.exclude(decision="left_out")[0].pk).log
    program_actions.note_log(log.pk, note=NOTE, by=lesson.teacher, now=LESSON)
    stored_file(models.Client.objects.get(pk=lesson.client.pk), settings)
    return lesson


def stored_file(client, settings):
    row = models.StoredFile.objects.create(
        id=uuid.uuid4(), client=client, kind="letter", media_type="application/pdf", size=5, made_at=NOW
    )
    path = settings.FILES_DIR / str(row.pk)[:2] / str(row.pk)
    path.parent.mkdir(parents=True)
    path.write_bytes(seals.sealed_file(b"words", row=row, client=client))


def taken(taught, owner):
    return actions.export_client(taught.client.pk, why=WHY, by=owner, now=NOW)


def test_every_table_with_a_path_to_the_client_is_in_it(taught, owner):
    tables = taken(taught, owner).record["tables"]
    assert set(tables) == reached()
    filled = {"scheduling.place", "programming.program", "programming.logline", "clients.healthform", "clients.care"}
    assert all(tables[name] for name in filled)


def test_sealed_words_are_opened_and_no_key_or_seal_is_handed_out(taught, owner):
    record = taken(taught, owner).record
    tables = record["tables"]
    assert tables["programming.log"][0]["note"] == NOTE
    assert tables["clients.conditionrecord"][0]["fact"]["condition_id"] == "C01"
    assert tables["clients.screening"][0]["limits"]["limits"]
    assert tables["programming.program"][0]["fit"]["lines"]
    text = json.dumps(record)
    assert [
        word for word in ("wrapped_key", "token_digest", "sealed_") if f'"{word}' in text.split("left_out")[0]
    ] == []
    assert "token_digest" not in tables["clients.formlink"][0] and "wrapped_key" not in tables["clients.client"][0]


def test_nobody_elses_words_are_in_it(taught, owner):
    make_clients.client("Oswin Threll", notes="likes the window")
    text = json.dumps(taken(taught, owner).record)
    assert "Oswin" not in text and "window" not in text


def test_who_took_it_out_and_why_is_on_record_and_in_it(taught, owner):
    record = taken(taught, owner).record
    entry = AuditEntry.objects.get(verb="export_client")
    assert (entry.kind, entry.person, entry.client_key, entry.why) == ("read", owner, taught.client.pk, WHY)
    assert record["audit"][-1]["verb"] == "export_client" and record["audit"][-1]["person"] == owner.name


@pytest.mark.parametrize("why", ["", "   ", "x" * 201, "Ruvena asked"])
def test_without_a_fit_reason_nothing_is_opened(taught, owner, why):
    with pytest.raises(Refused):
        actions.export_client(taught.client.pk, why=why, by=owner, now=NOW)
    assert not AuditEntry.objects.filter(verb="export_client").exists()


def test_nobody_but_the_owner_takes_a_record_out(taught, desk, instructor):
    for person in (desk, instructor, taught.teacher):
        with pytest.raises(Refused):
            actions.export_client(taught.client.pk, why=WHY, by=person, now=NOW)


# --- the page --------------------------------------------------------------------------------------------------------


def post(browser, taught, **given):
    given = {"why": WHY, "password": make.PASSWORD} | given
    return browser.post(reverse("clients:export", args=[taught.client.pk]), given)


def test_the_archive_holds_the_record_twice_and_the_files_and_nobody_keeps_it(taught, as_owner):
    answer = post(as_owner, taught)
    assert answer.status_code == 200 and answer["Cache-Control"] == "no-store"
    assert answer["Content-Disposition"] == f'attachment; filename="record-{str(taught.client.pk)[:8]}.zip"'
    archive = zipfile.ZipFile(io.BytesIO(answer.content))
    letter = next(name for name in archive.namelist() if name.startswith("files/letter-"))
    assert sorted(archive.namelist()) == sorted(["record.json", "record.pdf", letter])
    assert archive.read(letter) == b"words"
    assert json.loads(archive.read("record.json"))["tables"]["programming.log"][0]["note"] == NOTE
    told = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(archive.read("record.pdf"))).pages)
    words = " ".join(told.split())
    assert taught.client.name in words and "breathes out late" in words and "Who looked" in words


def test_a_wrong_password_opens_nothing(taught, as_owner):
    answer = post(as_owner, taught, password="guess")
    assert answer.status_code == 422
    assert "That is not your password." in answer.content.decode()
    assert not AuditEntry.objects.filter(verb="export_client").exists()


def test_five_wrong_passwords_close_the_door_as_at_the_login(taught, as_owner):
    for _ in range(5):
        answer = post(as_owner, taught, password="guess")
    assert answer.status_code == 429
    assert post(as_owner, taught).status_code == 429
    assert not AuditEntry.objects.filter(verb="export_client").exists()


def test_erasing_asks_for_name_reason_and_password_and_then_leads_to_the_list(taught, as_owner, settings, tmp_path):
    settings.ERASED_LIST = tmp_path / "erased.jsonl"
    taught.place.__class__.objects.update(state="cancelled")
    address = reverse("clients:erase", args=[taught.client.pk])
    shown = as_owner.get(address).content.decode()
    assert "What goes" in shown and "places in lessons" in shown.lower()
    wrong = as_owner.post(address, {"typed": "Somebody", "why": WHY, "password": make.PASSWORD})
    assert wrong.status_code == 422 and "not the name on the card" in wrong.content.decode()
    done = as_owner.post(address, {"typed": taught.client.name, "why": WHY, "password": make.PASSWORD})
    assert (done.status_code, done.url) == (302, reverse("clients:list"))
    assert "Erased client" in as_owner.get(done.url).content.decode()
    assert models.Client.objects.get(pk=taught.client.pk).name.startswith("Erased client ")


def test_who_looked_is_seen_by_the_owner_and_by_her_teacher(taught, as_owner, client, instructor):
    actions.export_client(taught.client.pk, why=WHY, by=make.person(*list(make.Role)), now=NOW)
    address = reverse("clients:looked", args=[taught.client.pk])
    shown = as_owner.get(address).content.decode()
    assert WHY in shown and "took out the whole record" in shown
    client.force_login(instructor, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(address).status_code == 409
