"""The change of the house's key, killed in the middle: every client's words open then, and after the next run."""

import base64
import os
import secrets
import subprocess
import sys
import time
import uuid
from pathlib import Path

import pytest
from django.conf import settings as house
from django.db import connection

from clients import models
from clients.actions import keys, seals
from tests.make_clients import NOW

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
ROOT = Path(__file__).resolve().parent.parent.parent
MANY = 400


def environment(new: bytes, before: bytes) -> dict[str, str]:
    """A deployment with these keys and this test's database."""
    database = connection.settings_dict
    address = f"{database['USER']}:{database['PASSWORD']}@{database['HOST']}:{database['PORT']}"
    return {key: value for key, value in os.environ.items() if key in ("PATH", "HOME", "LANG")} | {
        "STUDIO_MODE": "production",
        "SECRET_KEY": secrets.token_urlsafe(64),
        "HEALTH_KEY": base64.urlsafe_b64encode(new).decode(),
        "HEALTH_KEY_BEFORE": base64.urlsafe_b64encode(before).decode(),
        "ALLOWED_HOSTS": "studio.example",
        "DATABASE_URL": f"postgres://{address}/{database['NAME']}",
        "REDIS_URL": house.REDIS_URL,
        "EMAIL_URL": "smtp://127.0.0.1:25",
    }


def start(surroundings: dict[str, str]) -> subprocess.Popen[str]:
    command = [sys.executable, "manage.py", "rotate_health_key", "--batch", "1"]
    return subprocess.Popen(
        command, cwd=ROOT, env=surroundings, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )


def every_client_opens() -> bool:
    clients = list(models.Client.objects.all())
    return len(clients) == MANY and all(
        seals.opened_file(BLOBS[client.pk], row=client, client=client) == client.pk.bytes for client in clients
    )


BLOBS: dict[uuid.UUID, bytes] = {}


def test_a_change_killed_in_the_middle_loses_nobody_and_goes_on_when_run_again(settings):
    for number in range(MANY):
        client = models.Client(id=uuid.uuid4(), name=f"Client {number}", name_key=f"client {number}", made_at=NOW)
        client.wrapped_key = seals.fresh_wrapped_key(client.pk)
        BLOBS[client.pk] = seals.sealed_file(client.pk.bytes, row=client, client=client)
        client.save(force_insert=True)
    before, new = settings.HEALTH_KEY, secrets.token_bytes(32)
    settings.HEALTH_KEY, settings.HEALTH_KEYS_BEFORE = new, [before]
    process = start(environment(new, before))
    until = time.monotonic() + 60
    while keys.behind() > MANY - 20 and process.poll() is None and time.monotonic() < until:
        pass
    process.kill()
    process.wait()
    assert 0 < keys.behind() <= MANY - 20
    assert every_client_opens()
    again = start(environment(new, before))
    told, _ = again.communicate(timeout=60)
    assert again.returncode == 0, told
    assert keys.behind() == 0
    settings.HEALTH_KEYS_BEFORE = []
    assert every_client_opens()
