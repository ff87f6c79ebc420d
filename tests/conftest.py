"""What every test stands on: real Postgres, a real broker under a prefix of its own, people of each role."""

import os
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import redis
from celery import current_app
from django.conf import settings as django_settings
from django.test import Client
from hypothesis import settings as hypothesis_settings
from pytest_django import Settings

from studio import models
from studio.rules import Role
from tests import make
from tests.post import PostOffice

# Letters that tests hand in; gone with the process.
FILES = TemporaryDirectory(prefix="files-")
WORKER = os.environ.get("PYTEST_XDIST_WORKER", "alone")
PREFIX = f"test:{django_settings.DATABASES['default']['NAME']}:{WORKER}:"


# The same examples in every run, however slow the machine is: a test that passed does not fail without a change.
hypothesis_settings.register_profile("studio", derandomize=True, deadline=None, database=None)
hypothesis_settings.load_profile("studio")


def pytest_configure() -> None:
    django_settings.STORAGES = django_settings.STORAGES | {
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    }
    django_settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)
    django_settings.FILES_DIR = Path(FILES.name)
    django_settings.PASSWORD_HASHERS = ["tests.hashing.QuickArgon2"]
    django_settings.CACHES = {"default": django_settings.CACHES["default"] | {"KEY_PREFIX": PREFIX}}
    # Messages really go to the broker, but where no worker but a test's own picks them up.
    current_app.conf.broker_transport_options = django_settings.CELERY_BROKER_TRANSPORT_OPTIONS | {
        "global_keyprefix": PREFIX
    }


def uses_database(request: pytest.FixtureRequest) -> bool:
    return bool(request.node.get_closest_marker("django_db")) or "db" in request.fixturenames


@pytest.fixture(autouse=True)
def clean_broker(request: pytest.FixtureRequest) -> Iterator[None]:
    """Nothing a test leaves in the cache or the broker reaches the next; tests of pure rules touch neither."""
    yield
    if uses_database(request):
        with redis.Redis.from_url(django_settings.REDIS_URL) as server:
            for key in server.scan_iter(match=f"*{PREFIX}*", count=1000):
                server.delete(key)


@pytest.fixture
def desk(db: None) -> models.Person:
    return make.person(Role.DESK, name="Wilma Ostrander", email="wilma@studio.example")


@pytest.fixture
def instructor(db: None) -> models.Person:
    return make.person(Role.INSTRUCTOR, name="Henrike Aldous", email="henrike@studio.example")


@pytest.fixture
def owner(db: None) -> models.Person:
    return make.person(Role.OWNER, name="Teodora Quist", email="teodora@studio.example")


@pytest.fixture
def as_desk(desk: models.Person) -> Client:
    return logged_in(desk)


@pytest.fixture
def as_instructor(instructor: models.Person) -> Client:
    return logged_in(instructor)


@pytest.fixture
def as_owner(owner: models.Person) -> Client:
    return logged_in(owner)


def logged_in(person: models.Person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def post_office(settings: Settings) -> Iterator[PostOffice]:
    """A mail server that the product really speaks SMTP with."""
    office = PostOffice()
    office.open()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = office.host, office.port
    yield office
    office.close()
