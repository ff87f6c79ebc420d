"""A pass of the rules whose worker is killed, and two workers at one pass: nobody is screened twice, nobody is left."""

import os
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from clients import models
from clients.actions import runs
from tests import make_clients as make

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]
ROOT = Path(__file__).resolve().parent.parent.parent
LATER = make.NOW + timedelta(hours=1)
PEOPLE = 12
# What the task does, as a process of its own against the test database; slowed so that a kill falls in the middle.
WORK = """
import os, sys, time
from datetime import datetime
import django
from django.conf import settings
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
django.setup()
settings.DATABASES["default"]["NAME"] = sys.argv[2]
from django.db import connection
connection.settings_dict["NAME"] = sys.argv[2]
from clients.actions import runs
look = runs._look_at
def slowly(*args):
    look(*args)
    time.sleep(float(sys.argv[4]))
runs._look_at = slowly
print("at work", flush=True)
while runs.go_on(runs.UUID(sys.argv[1]), now=datetime.fromisoformat(sys.argv[3]), most=3):
    pass
"""


def worker(run: models.RuleRun, *, pause: float) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WORK, str(run.pk), str(connection.settings_dict["NAME"]), LATER.isoformat()]
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "studio.settings", "PYTHONPATH": str(ROOT)}
    started = subprocess.Popen(
        [*command, str(pause)], cwd=settings.BASE_DIR, env=environment, stdout=subprocess.PIPE, text=True
    )
    assert started.stdout is not None and started.stdout.readline() == "at work\n"
    return started


def begun(owner) -> models.RuleRun:
    make.load_reference()
    for letter in "ABCDEFGHIJKL"[:PEOPLE]:
        name = f"{letter * 3}ona {letter}inter"
        make.signed_form(make.client(name), signature=name)
    return runs.screen_everybody(why="To be sure", by=owner, now=LATER)


def each_screened_once() -> bool:
    screened = models.Screening.objects.filter(asked_for=runs.ASKED_FOR)
    return screened.count() == PEOPLE == screened.values("client").distinct().count()


def wait_for(run: models.RuleRun, done: int) -> None:
    deadline = time.monotonic() + 60
    while models.RuleRun.objects.get(pk=run.pk).done < done:
        assert time.monotonic() < deadline, "the worker does nothing"
        time.sleep(0.02)


def test_a_pass_whose_worker_is_killed_goes_on_and_screens_everybody_once(owner):
    run = begun(owner)
    killed = worker(run, pause=0.2)
    wait_for(run, 3)
    killed.send_signal(signal.SIGKILL)
    killed.wait(timeout=30)
    half = models.RuleRun.objects.get(pk=run.pk)
    assert half.state == "running" and 3 <= half.done < PEOPLE
    # The server lets go of what the dead connection held; then the beat's hint finds the run as it stands.
    deadline = time.monotonic() + 30
    while models.RuleRun.objects.get(pk=run.pk).state == "running" and time.monotonic() < deadline:
        runs.go_on(run.pk, now=LATER, most=3)
    assert models.RuleRun.objects.get(pk=run.pk).state == "done"
    assert models.RuleRun.objects.get(pk=run.pk).done == PEOPLE
    assert each_screened_once()


def test_two_workers_at_one_pass_screen_nobody_twice(owner):
    run = begun(owner)
    both = [worker(run, pause=0), worker(run, pause=0)]
    for one in both:
        assert one.wait(timeout=120) == 0
    while runs.go_on(run.pk, now=LATER):
        pass
    assert models.RuleRun.objects.get(pk=run.pk).done == PEOPLE
    assert each_screened_once()
