"""The API against its own description: requests made from the schema, in each role; no fault, and answers as promised.

Deterministic: the examples are derived from the schema without chance, and what one writes is gone before the next.
"""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
import schemathesis
import time_machine
from django.core import signals
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from django.middleware import csrf
from django.test import Client, RequestFactory
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from pytest_django import DjangoDbBlocker
from schemathesis import GenerationMode, checks

from studio.rules import Role
from tests import make_full_day
from tests.conftest import logged_in
from tests.make_full_day import MIDDAY, FullDay, undone
from tests.studio.test_access import decided, routes

pytestmark = pytest.mark.django_db
SCHEMA = "/api/schema.json"
EXAMPLES = 8
CHECKS = [
    checks.not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
]
# Which ids the rules hold, and which days can belong to one case, is data: a schema cannot say it, and 400 names it.
OF_REFERENCE_IDS = {"POST /api/rules/try/", "POST /api/programs/fit/"}
BOUNDED = settings(
    max_examples=EXAMPLES,
    derandomize=True,
    database=None,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture(scope="module")
def full_day(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[FullDay]:
    with (
        make_full_day.standing(django_db_blocker, full=False) as made,
        time_machine.travel(MIDDAY, tick=True),
    ):
        # Between requests the handler would drop the connection that holds this module's transaction.
        for signal in (signals.request_started, signals.request_finished):
            signal.disconnect(close_old_connections)
        yield made
        for signal in (signals.request_started, signals.request_finished):
            signal.connect(close_old_connections)


def described(client: Client) -> Any:
    """The product's own WSGI application and its schema, as the browser of somebody who is logged in speaks to it."""
    token = csrf.get_token(RequestFactory().get("/"))
    sent = {"HTTP_COOKIE": f"s={client.cookies['s'].value}; c={token}", "HTTP_X_CSRFTOKEN": token}
    application = get_wsgi_application()
    return schemathesis.openapi.from_wsgi(SCHEMA, lambda environ, start: application(environ | sent, start))


def operations(schema: Any) -> list[Any]:
    return [found.ok() for found in schema.get_all_operations()]


def with_real_rows(case: Any, full_day: FullDay) -> None:
    """Keys that the schema can only guess become those of real rows, so that more than "not found" is answered."""
    house = full_day.house
    known = full_day.keys | {
        "client": str(full_day.keys["client_id"]),
        "apparatus": house.reformers[1].pk,
        "instructor": house.teachers[1].pk,
        "line": None,
    }
    for name in case.path_parameters or {}:
        case.path_parameters[name] = str(known[name])
    if isinstance(case.body, dict):
        case.body |= {name: plain(value) for name, value in known.items() if name in case.body and value is not None}


def plain(value: object) -> object:
    return value if isinstance(value, int) else str(value)


def tried(
    full_day: FullDay, role: Role, wanted: GenerationMode, found: Callable[[Any], list[Any]]
) -> tuple[list[str], set[int]]:
    """Labels of operations whose answers differ from the schema, with what differed, and every status seen."""
    client = logged_in(full_day.people[role.value])
    wrong: list[str] = []
    seen: set[int] = set()
    for operation in operations(described(client)):

        @BOUNDED
        @given(case=operation.as_strategy(generation_mode=wanted), is_real=st.booleans())
        def answers(case: Any, is_real: bool) -> None:
            with undone():
                if is_real:
                    with_real_rows(case, full_day)
                answer = case.call()
                seen.add(answer.status_code)
                case.validate_response(answer, checks=found(case))

        try:
            answers()
        except Exception as error:
            wrong.append(f"{operation.label}: {type(error).__name__} {error}"[:1500])
    return wrong, seen


def accepted(case: Any) -> list[Any]:
    return CHECKS if case.operation.label in OF_REFERENCE_IDS else [*CHECKS, checks.positive_data_acceptance]


@pytest.mark.parametrize("role", Role)
def test_what_the_schema_allows_is_answered_as_the_schema_says(full_day, role):
    wrong, seen = tried(full_day, role, GenerationMode.POSITIVE, accepted)
    assert wrong == []
    assert {200, 404} <= seen


@pytest.mark.parametrize("role", Role)
def test_what_the_schema_does_not_allow_is_refused_without_a_fault(full_day, role):
    wrong, seen = tried(full_day, role, GenerationMode.NEGATIVE, lambda case: CHECKS)
    assert wrong == []
    assert 400 in seen


def test_the_schema_describes_every_route_of_the_api(full_day):
    schema = described(logged_in(full_day.people["owner"]))
    paths = {operation.path for operation in operations(schema)}
    named = {route.name for route in routes() if route.name in decided() and "api-" in route.name}
    assert len(paths) == len(named - {"studio:api-schema"})


def test_the_api_takes_json_and_no_form(full_day):
    client = logged_in(full_day.people["desk"])
    answer = client.post("/api/clients/", {"name": "Ottoline Fenwarr"})
    assert answer.status_code == 415
