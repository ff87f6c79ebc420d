"""What a page weighs on a full day, compressed: at most 60 KB of HTML, 25 KB of script and 15 KB of style."""

import gzip
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.contrib.staticfiles import finders
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from tests import make_full_day
from tests.conftest import logged_in
from tests.make_full_day import FullDay
from tests.routes import Visit, visits

pytestmark = pytest.mark.django_db
KB = 1024
HEAVIEST = {"scheduling:day-sheet", "programming:run-sheet", "programming:program", "clients:form-screen"}
LIMITS = {"html": 60 * KB, "js": 25 * KB, "css": 15 * KB}
LINKED = {
    "js": re.compile(r'<script[^>]* src="/static/([^"]+)"'),
    "css": re.compile(r'<link[^>]* href="/static/([^"]+\.css)"'),
}


@pytest.fixture
def full_day(db: None, django_db_blocker: DjangoDbBlocker) -> Iterator[FullDay]:
    with time_machine.travel(make_full_day.MIDDAY, tick=True), make_full_day.standing(django_db_blocker) as made:
        yield made


def packed(content: bytes) -> int:
    return len(gzip.compress(content, 6))


def weights(html: bytes) -> dict[str, int]:
    found = {"html": packed(html)}
    for kind, pattern in LINKED.items():
        names = set(pattern.findall(html.decode()))
        found[kind] = sum(packed(open_static(name)) for name in names)
    return found


def open_static(name: str) -> bytes:
    path = finders.find(name)
    assert path, f"{name} is linked and not there"
    return Path(path).read_bytes()


def answers(full_day: FullDay) -> Iterator[tuple[Visit, Any]]:
    """What every address answers to somebody whom it is open to."""
    clients = {role: logged_in(person) for role, person in full_day.people.items()} | {"": Client()}
    for visit in visits(full_day):
        yield visit, clients[visit.role].get(visit.address)


def is_page(answer: Any) -> bool:
    return answer.status_code < 400 and answer.get("Content-Type", "").startswith("text/html")


def main_of(answer: Any) -> str:
    return answer.content.decode().partition("<main")[2][:2000]


def test_no_page_of_a_full_day_is_heavier_than_a_tablet_on_poor_wifi_can_bear(full_day):
    assert make_full_day.places() >= 100
    assert timezone.now() < make_full_day.MIDDAY + timedelta(hours=1)
    heavy, seen, missed = [], set(), []
    for visit, answer in answers(full_day):
        if visit.route in HEAVIEST and not is_page(answer):
            missed.append((visit.route, answer.status_code, answer.headers.get("Location", main_of(answer))))
        elif is_page(answer):
            seen.add(visit.route)
            weighed = weights(answer.content).items()
            heavy += [(visit.route, visit.role, kind, weight) for kind, weight in weighed if weight > LIMITS[kind]]
    # One role is asked for a reason where another reads: a page has to be seen by somebody.
    assert (heavy, [one for one in missed if one[0] not in seen]) == ([], [])
    assert seen >= HEAVIEST
