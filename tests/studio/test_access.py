"""Who may open what: every route of the house against one table, as each role and as nobody.

`access.csv` is the decision, written by people; a route it does not list, or lists wrongly, fails here. `who` is a
list of roles, or `public` (no login), or `by link` (the address carries a secret).
"""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from studio.doors.access import Open
from studio.rules import Role
from tests import make
from tests.conftest import logged_in

TABLE = Path(__file__).with_name("access.csv")
NOBODY = "nobody"
DUMMIES = {
    "IntConverter": 987654321,
    "UUIDConverter": UUID("00000000-0000-4000-8000-000000000000"),
    "StringConverter": "nothing",
    "SlugConverter": "nothing",
    "PathConverter": "nothing",
}


@dataclass(frozen=True)
class Route:
    name: str
    view: Any
    arguments: dict[str, Any]

    @property
    def who(self) -> frozenset[str]:
        """Whom the code lets in, in the words of the table."""
        allowed = getattr(self.view, "allowed", None)
        if isinstance(allowed, Open):
            return frozenset([allowed.value])
        return frozenset(role.value for role in allowed or ())

    @property
    def address(self) -> str:
        return reverse(self.name, kwargs=self.arguments)


def walk(patterns: list[URLPattern | URLResolver], namespace: str = "", above: dict[str, Any] | None = None):
    for pattern in patterns:
        taken = {name: dummy(converter) for name, converter in pattern.pattern.converters.items()}
        arguments = {**(above or {}), **taken}
        if isinstance(pattern, URLResolver):
            inner = ":".join(filter(None, [namespace, pattern.namespace]))
            yield from walk(pattern.url_patterns, inner, arguments)
        else:
            yield Route(":".join(filter(None, [namespace, pattern.name or ""])), pattern.callback, arguments)


def dummy(converter: object) -> Any:
    kind: Any = type(converter)
    return DUMMIES.get(kind.__name__) or kind.dummy


def routes() -> Iterator[Route]:
    return walk(get_resolver().url_patterns)


def decided() -> dict[str, frozenset[str]]:
    with TABLE.open(newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    return {
        row["route"]: frozenset([row["who"]]) if "link" in row["who"] else frozenset(row["who"].split()) for row in rows
    }


def test_the_table_and_the_house_know_the_same_routes():
    assert {route.name for route in routes()} == set(decided())


def test_the_table_names_each_route_once_and_in_order():
    with TABLE.open(newline="", encoding="utf-8") as handle:
        names = [row["route"] for row in csv.DictReader(handle)]
    assert names == sorted(set(names))


def test_every_route_lets_in_exactly_whom_the_table_names():
    table = decided()
    wrong = {route.name: sorted(route.who) for route in routes() if route.who != table.get(route.name)}
    assert wrong == {}


def test_a_view_that_names_nobody_lets_nobody_in():
    assert Route("x", lambda request: None, {}).who == frozenset()


@pytest.fixture
def visitors(db: None) -> dict[str, Client]:
    make.studio()
    found = {role.value: logged_in(make.person(role)) for role in Role} | {NOBODY: Client()}
    for client in found.values():
        client.raise_request_exception = False
    return found


@pytest.mark.parametrize("visitor", [*(role.value for role in Role), NOBODY])
def test_a_real_request_opens_or_stays_shut_as_the_table_says(visitors, visitor):
    table, client = decided(), visitors[visitor]
    wrong = {}
    for route in routes():
        if route.name == "studio:logout" and visitor != NOBODY:
            continue
        answer = client.get(route.address)
        if not as_decided(answer, route, visitor, table.get(route.name, frozenset())):
            wrong[route.name] = answer.status_code
    assert wrong == {}


def as_decided(answer: Any, route: Route, visitor: str, who: frozenset[str]) -> bool:
    to_login = answer.status_code == 302 and answer.url.startswith(reverse("studio:login"))
    if who & {Open.PUBLIC.value, Open.BY_LINK.value, visitor}:
        return answer.status_code < 500 and answer.status_code not in (401, 403) and not to_login
    if visitor != NOBODY:
        return answer.status_code == 403
    return answer.status_code == 401 if route.address.startswith("/api/") else to_login


def test_a_fragment_asked_for_without_a_login_sends_the_whole_page_to_the_door(client, db):
    answer = client.get(reverse("studio:office"), headers={"HX-Request": "true"})
    assert (answer.status_code, answer["HX-Redirect"]) == (401, reverse("studio:login"))
