"""What the API promises about clients is what it does, whatever is sent to it."""

import hypothesis
import pytest
import schemathesis
from django.core.wsgi import get_wsgi_application
from django.urls import reverse

from tests import make_clients as make

pytestmark = pytest.mark.django_db(transaction=True)
OPERATIONS = ["GET /api/clients/", "POST /api/clients/", "GET /api/clients/{client_id}/", "POST /api/clients/find/"]


@pytest.mark.parametrize("label", OPERATIONS)
def test_every_answer_is_one_the_schema_promises(as_owner, label):
    make.load_reference()
    make.client("Áine Núñez", email="aine@mail.example")
    as_owner.get(reverse("clients:add"))
    session, token = as_owner.cookies["s"].value, as_owner.cookies["c"].value
    schema = schemathesis.openapi.from_dict(as_owner.get("/api/schema.json").json())
    schema.app = get_wsgi_application()
    operation = next(one.ok() for one in schema.get_all_operations() if one.ok().label == label)
    answered = []

    @hypothesis.given(case=operation.as_strategy())
    @hypothesis.settings(
        max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(hypothesis.HealthCheck)
    )
    def every_case(case):
        case.cookies = {"s": session, "c": token}
        case.headers = {**(case.headers or {}), "X-CSRFToken": token}
        answered.append(case.call_and_validate().status_code)

    every_case()
    assert set(answered) & {200, 201, 404}
    assert not set(answered) & {401, 403}
