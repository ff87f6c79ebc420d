"""The browser and the database of the journeys; each module of them plays on a stage of its own."""

from collections.abc import Iterator

import pytest
from django.db import connection, connections
from django.test.utils import setup_databases, teardown_databases
from playwright.sync_api import Browser, sync_playwright
from pytest_django import DjangoDbBlocker

from tests.journeys.stage import Stage, open_browser, set_stage


@pytest.fixture(scope="session")
def a_database(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """The test database, also when no other test of this run has asked for one; its rows are really committed."""
    with django_db_blocker.unblock():
        if is_for_tests():
            yield
            return
        made = setup_databases(verbosity=0, interactive=False)
        assert is_for_tests()
        yield
        connections.close_all()
        teardown_databases(made, verbosity=0)


def is_for_tests() -> bool:
    return str(connection.settings_dict["NAME"]).startswith("test_")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    # The browser's driver keeps an event loop in this thread, and Django would take our own reads for reads inside it.
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
        yield open_browser(playwright)


@pytest.fixture(scope="module")
def stage(request: pytest.FixtureRequest, a_database: None, browser: Browser) -> Iterator[Stage]:
    album = request.module.__name__.rpartition("test_")[2]
    with set_stage(browser, album) as made:
        yield made


@pytest.fixture(autouse=True)
def nothing_went_wrong(request: pytest.FixtureRequest) -> Iterator[None]:
    """No script error, no refused inline part and no fault of the server on any page that a test opened."""
    yield
    if "stage" in request.fixturenames:
        made: Stage = request.getfixturevalue("stage")
        wrong = [f"{device.name}: {one}" for device in made.devices for one in device.wrong]
        for device in made.devices:
            device.wrong.clear()
        assert wrong == []
