"""One lesson to be taught, with the whole reference: built once a module, each test in a savepoint of its own."""

from collections.abc import Iterator

import pytest
from django.db import transaction

from clients.models import Client
from scheduling.models import Place
from studio.models import Person
from tests import make_programming as practice


@pytest.fixture(scope="module")
def practised(django_db_setup: None, django_db_blocker: object) -> Iterator[practice.Lesson]:
    """Loading takes over a second, so it is not done for each test; nothing of it outlives the module."""
    with django_db_blocker.unblock(), transaction.atomic():  # type: ignore[attr-defined]
        practice.load()
        yield practice.lesson(told=practice.BONES)
        transaction.set_rollback(True)


@pytest.fixture
def lesson(practised: practice.Lesson, db: None) -> practice.Lesson:
    """Ruvena's lesson on Reformer 1, with low bone density on her form; rows read anew for each test."""
    return practice.Lesson(
        practised.house,
        Person.objects.get(pk=practised.teacher.pk),
        Client.objects.get(pk=practised.client.pk),
        Place.objects.get(pk=practised.place.pk),
    )
