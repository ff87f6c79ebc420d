"""What people and machines send that nobody wished for: every route answers with a word, never with a fault of ours.

Forms and query names are read off the pages themselves, so that a new field is tried without being listed here.
"""

import re
import sys
import uuid
from collections.abc import Iterator, Sequence
from html.parser import HTMLParser
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

import pytest
import time_machine
from django.core.signals import got_request_exception
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils.html import escape
from pytest_django import DjangoDbBlocker

from clients import actions as client_actions
from clients import models as client_models
from programming import models as programming_models
from scheduling import models as scheduling_models
from tests import make_clients, make_full_day, make_scheduling
from tests.conftest import logged_in
from tests.make_full_day import MIDDAY, FullDay, undone
from tests.routes import Visit, visits
from tests.studio.test_access import routes

pytestmark = pytest.mark.django_db
NUL = "a\x00b"
GARBAGE = [
    NUL,
    "9" * 400,
    "-1",
    "2026-02-30",
    "0001-01-01",
    "9999-12-31T23:59:59+14:00",
    "\U0001f9d8\U0001f3fd\u200d♀️ שלום \u202edlrow",
    "NaN",
    "x" * 20_000,
    "00000000-0000-4000-8000-000000000000",
]
# Bytes that are no UTF-8 at all, as a broken client sends them.
BROKEN = "%ff%fe%00"
PATHS = ["%00", "%F0%9F%92%A5", "9" * 300, "..", "%E2%80%AE", "2026-99-99", "'"]
# Ends the visit itself; tried by itself below.
LEAVES = {"studio:logout"}


class Forms(HTMLParser):
    """The forms of a page as (method, action, names of fields), and the names that its links put into a query."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[tuple[str, str, dict[str, str]]] = []
        self.queries: set[tuple[str, str]] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        at = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.forms.append((at.get("method", "get").lower(), at.get("action", ""), {}))
        if at.get("name") and tag in ("input", "select", "textarea", "button") and self.forms:
            self.forms[-1][2].setdefault(at["name"], at.get("value", ""))
        for link in (at.get("href", ""), at.get("hx-get", "")):
            parts = urlsplit(link)
            self.queries |= {(parts.path, name) for name, _ in parse_qsl(parts.query)}


class House:
    """A full day's people at their devices; whatever they post is rolled back, and faults of ours are collected."""

    def __init__(self, full_day: FullDay) -> None:
        self.day = full_day
        self.devices = {role: logged_in(person) for role, person in full_day.people.items()} | {"": Client()}
        for device in self.devices.values():
            device.raise_request_exception = False
        self.faults: dict[str, str] = {}
        self._now = ""
        got_request_exception.connect(self._note)

    def close(self) -> None:
        got_request_exception.disconnect(self._note)

    def _note(self, **_: Any) -> None:
        kind, error, _trace = sys.exc_info()
        self.faults.setdefault(self._now, f"{kind.__name__ if kind else '?'}: {str(error)[:120]}")

    def ask(self, role: str, method: str, address: str, **options: Any) -> HttpResponse:
        self._now = f"{method} {address[:120]} as {role or 'nobody'} {str(options)[:100]}"
        with undone():
            answer = getattr(self.devices[role], method)(address, **options)
        if answer.status_code >= 500:
            self.faults.setdefault(self._now, str(answer.status_code))
        return answer


@pytest.fixture(scope="module")
def day(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[FullDay]:
    with make_full_day.standing(django_db_blocker, full=False) as made:
        yield made


@pytest.fixture
def house(day: FullDay) -> Iterator[House]:
    with undone(), time_machine.travel(MIDDAY, tick=True):
        found = House(day)
        yield found
        found.close()


def read(answer: HttpResponse) -> Forms:
    found = Forms()
    if answer.get("Content-Type", "").startswith("text/html"):
        found.feed(answer.content.decode())
    return found


def pages(house: House) -> Iterator[tuple[Visit, Forms]]:
    for visit in visits(house.day):
        if visit.route not in LEAVES:
            yield visit, read(house.ask(visit.role, "get", visit.address))


def test_a_fault_on_one_page_would_be_seen_here(house, monkeypatch):
    monkeypatch.setattr("clients.pages.desk.queries.newest", lambda: 1 // 0)
    house.ask("desk", "get", reverse("clients:list"))
    assert [fault.partition(":")[0] for fault in house.faults.values()] == ["ZeroDivisionError"]


def test_every_route_opens_on_real_rows_without_a_fault(house):
    assert sum(1 for _ in pages(house)) >= 100
    assert house.faults == {}


def test_unknown_keys_and_odd_addresses_are_not_found_and_not_a_fault(house):
    for visit in visits(house.day):
        for address in odd_addresses(visit):
            house.ask(visit.role, "get", address)
            house.ask(visit.role, "post", address)
    assert house.faults == {}


def odd_addresses(visit: Visit) -> Iterator[str]:
    """The address with each of its keys in turn made one that nothing has, or one that is no key at all."""
    keys = {str(value) for value in visit.arguments.values()}
    parts = visit.address.split("/")
    for at, part in enumerate(parts):
        yield from ("/".join([*parts[:at], odd, *parts[at + 1 :]]) for odd in _instead_of(part, keys))


def _instead_of(part: str, keys: set[str]) -> Sequence[str]:
    if re.fullmatch(r"[0-9a-f-]{36}", part):
        return [str(uuid.UUID(int=7))]
    if part.isdigit():
        return ["0", "9" * 12, "9" * 40]
    return PATHS if part and (part in keys or len(part) > 20) else []


def test_no_query_string_makes_a_fault(house):
    for visit, forms in pages(house):
        names = {name for path, name in forms.queries if path in ("", visit.address)}
        names |= {name for method, _, fields in forms.forms if method == "get" for name in fields}
        for value in GARBAGE:
            query = urlencode(dict.fromkeys(sorted(names | {"day", "q", "place", "line", "next"}), value))
            house.ask(visit.role, "get", f"{visit.address}?{query}")
        house.ask(visit.role, "get", f"{visit.address}?{'&'.join(f'{name}={BROKEN}' for name in sorted(names) or 'q')}")
    assert house.faults == {}


def test_no_posted_field_makes_a_fault(house):
    tried = set()
    for visit, forms in pages(house):
        for method, action, fields in forms.forms:
            address = action or visit.address
            # What turns into another page's form is tried there; one role is enough for one set of fields.
            key = (re.sub(r"[0-9a-f-]{36}|\d+", "#", address), tuple(sorted(fields)))
            if method == "post" and key not in tried and not address.startswith("/logout"):
                tried.add(key)
                post_garbage(house, visit.role, address, fields)
    assert len(tried) >= 40
    assert house.faults == {}


def post_garbage(house: House, role: str, address: str, fields: dict[str, str]) -> None:
    house.ask(role, "post", address, data={})
    for value in GARBAGE:
        house.ask(role, "post", address, data=dict.fromkeys(fields, value))
    for name in fields:
        for value in (NUL, "9" * 30, ""):
            house.ask(role, "post", address, data={**fields, name: value})


def test_what_is_posted_to_a_page_without_any_field_makes_no_fault(house):
    for visit in visits(house.day):
        if visit.route not in LEAVES:
            house.ask(visit.role, "post", visit.address)
            house.ask(visit.role, "post", visit.address, data="{", content_type="application/json")
            house.ask(visit.role, "put", visit.address)
    assert house.faults == {}


def test_ten_megabytes_pasted_into_any_form_are_refused_with_a_word(house):
    paste = "ruhig " * (10 * 1024 * 1024 // 6)
    answers = {}
    for role, route, name in (
        ("desk", "clients:add", "name"),
        ("", "clients:form-screen", "H01.words"),
        ("instructor", "programming:note", "note"),
        ("desk", "clients:find", "text"),
        ("desk", "scheduling:openings", "who"),
        ("desk", "clients:api-list", "name"),
        ("", "studio:login", "username"),
    ):
        address = house.day.address(route, _arguments(route))
        answer = house.ask(role, "post", address, data={name: paste})
        answers[route] = answer.status_code
        assert answer.status_code in (400, 413, 415), route
        assert len(answer.content) < 100_000
    assert house.faults == {}


def _arguments(route: str) -> dict[str, Any]:
    return next(one.arguments for one in routes() if one.name == route)


# --- clear words, and nothing lost ------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "name",
    ["\U0001f9d8 Ánya", "ליאורה בן־צור", "أمل الزهراء", "Ng\u1ea1o \u202eX", "Z̷͖a̴l̶g̵o̸ Ovelin", "李", "O’Ruarc-d’Élan"],
)
def test_names_in_any_writing_are_kept_as_they_were_written(house, name):
    desk = house.devices["desk"]
    answer = desk.post(reverse("clients:add"), {"name": name})
    assert answer.status_code == 302
    card = desk.get(answer.url).content.decode()
    kept = client_models.Client.objects.get(pk=answer.url.strip("/").split("/")[-1]).name
    assert kept.replace("\u202e", "") == name.replace("\u202e", "")
    assert f"<bdi>{escape(kept)}</bdi>" in card


def test_what_was_typed_stays_in_the_form_beside_the_field_that_is_wrong(house):
    answer = house.devices["desk"].post(
        reverse("clients:add"), {"name": "Ottoline Fenwarr", "born_on": "2026-02-30", "notes": "Prefers mornings"}
    )
    page = answer.content.decode()
    assert "Ottoline Fenwarr" in page and "Prefers mornings" in page
    assert 'id="id_born_on_error"' in page
    assert not client_models.Client.objects.filter(name="Ottoline Fenwarr").exists()


def test_a_booking_in_the_past_is_refused_with_its_reason(house):
    who = make_scheduling.client("Ottoline Fenwarr")
    start = make_scheduling.at(7, 15)
    answer = house.devices["desk"].post(
        reverse("scheduling:book"),
        {
            "client": who.pk,
            "apparatus": house.day.house.reformers[2].pk,
            "instructor": house.day.house.teachers[2].pk,
            "start": start.isoformat(),
            "minutes": 55,
            "kind": "private",
        },
    )
    assert answer.status_code == 409
    assert "That time has already gone by." in answer.content.decode()
    assert not scheduling_models.Place.objects.filter(client=who).exists()


@pytest.mark.parametrize("token", ["nothing", "a" * 500, quote("שלום"), "%00"])
def test_somebody_elses_or_an_invented_link_opens_nothing_and_says_what_to_do(house, token):
    answer = house.devices[""].get(f"/form/{token}/")
    assert answer.status_code in (404, 410)
    assert "new link" in answer.content.decode()


def test_a_link_of_long_ago_is_closed_and_the_answers_are_kept(house):
    token = house.day.keys["token"]
    begun = client_models.HealthForm.objects.filter(client_id=house.day.keys["client_id"]).count()
    with time_machine.travel(MIDDAY.replace(year=2027), tick=True):
        answer = house.devices[""].get(reverse("clients:form", args=[token]))
    assert answer.status_code == 410
    assert "Ask the studio for a new link" in answer.content.decode()
    assert client_models.HealthForm.objects.filter(client_id=house.day.keys["client_id"]).count() == begun


def test_a_signed_form_cannot_be_changed_afterwards_and_says_how_to_tell_of_a_change(house):
    made = make_clients.client("Ottoline Fenwarr", now=MIDDAY)
    token = client_actions.make_form_link(made.pk, by=None, now=MIDDAY).token
    make_clients.answer(token, now=MIDDAY)
    client_actions.sign_form(token, name=made.name, signed_as="client", now=MIDDAY)
    signed = client_models.HealthForm.objects.get(client=made)
    for address in ("clients:form-screen", "clients:form-card"):
        more = ["H01"] if address == "clients:form-screen" else []
        answer = house.devices[""].post(reverse(address, args=[token, *more]), {"H01.days": "5", "name": "X"})
        assert answer.status_code in (409, 410)
        assert "ask the studio for a new link" in answer.content.decode().lower()
    after = client_models.HealthForm.objects.get(client=made)
    assert (after.sealed_answers, after.signed_at, after.signed_name) == (
        signed.sealed_answers,
        signed.signed_at,
        signed.signed_name,
    )


def test_a_second_log_in_the_run_sheet_loses_no_mark(house):
    place = house.day.keys["place_id"]
    before = programming_models.LogLine.objects.filter(log__place_id=place).count()
    house.devices["instructor"].post(reverse("programming:mark", args=[place]), {"line": "nonsense", "mark": "done"})
    assert before == programming_models.LogLine.objects.filter(log__place_id=place).count() == 1
