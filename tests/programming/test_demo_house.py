"""Where the demo studio is not built, and what is left of it when its building is broken off."""

from datetime import UTC, datetime

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from clients.models import Client
from programming import actions
from programming.demo import build
from studio.models import Business, Person
from tests import make, reference

NOW = datetime(2026, 10, 28, 10, 20, tzinfo=UTC)
TINY = build.Scale(clients=40, weeks_past=1, weeks_ahead=1, lessons=4, places_today=2)


def test_a_real_house_stays_as_it_is(owner: Person) -> None:
    make.business(name="A house of somebody's own")
    call_command("build_demo")
    assert Business.objects.get().name == "A house of somebody's own"
    assert not Client.objects.exists()
    assert list(Person.objects.all()) == [owner]


def test_a_build_that_is_broken_off_leaves_nothing(db: None) -> None:
    actions.load_reference(reference.tables(), now=NOW)
    people_at_the_stop: list[int] = []

    def stop(done: int, total: int, what: str) -> None:
        people_at_the_stop.append(Person.objects.count())
        if done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        build.build(now=NOW, scale=TINY, tell=stop)
    assert people_at_the_stop[-1] > 7, "it was half-built when it stopped"
    assert not Business.objects.exists()
    assert not Person.objects.exists()
    assert not Client.objects.exists()


def test_without_the_reference_it_says_what_is_missing(db: None) -> None:
    with pytest.raises(CommandError, match="not built"):
        call_command("build_demo")
    assert not Business.objects.exists()
