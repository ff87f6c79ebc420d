"""Locks in one fixed order of kinds, then by key: teacher, client, apparatus, lesson, place.

The exclusion constraints alone are right but may let losers of a race wait for the deadlock check one after another;
with these locks taken first nobody waits longer than for the winner's commit.
"""

import random
import time
from collections.abc import Callable, Iterable
from typing import TypeVar
from uuid import UUID

from django.db import IntegrityError, OperationalError, connection, transaction
from django.db.models import Model

from clients.models import Client
from scheduling import models
from studio.rules import Reason, Refused

Result = TypeVar("Result")
Row = TypeVar("Row", bound=Model)

TRIES = 3
EXCLUSION = "23P01"
# deadlock_detected, serialization_failure
AGAIN = ("40P01", "40001")
APPARATUS = "SELECT id FROM scheduling_apparatus WHERE id = ANY(%s) ORDER BY id FOR NO KEY UPDATE"


class Clashed(Exception):
    """The database refused the span: somebody wrote without these locks. Carries the constraint's name."""

    def __init__(self, constraint: str) -> None:
        super().__init__(constraint)
        self.constraint = constraint


def settled(deed: Callable[[], Result]) -> Result:
    """`deed` in one transaction, tried three times when the database chose it to end a deadlock.

    Raises Clashed for an exclusion constraint, Refused ("busy") when all tries failed.
    """
    for attempt in range(TRIES):
        try:
            with transaction.atomic():
                return deed()
        except IntegrityError as error:
            if _state(error) != EXCLUSION:
                raise
            raise Clashed(_constraint(error)) from error
        except OperationalError as error:
            if _state(error) not in AGAIN:
                raise
            time.sleep(random.uniform(0.005, 0.03) * 2**attempt)
    raise Refused(Reason("busy", "Several people are booking at once; nothing was changed.", allowed="Try once more."))


def _state(error: Exception) -> str:
    return getattr(error.__cause__, "sqlstate", None) or ""


def _constraint(error: Exception) -> str:
    diag = getattr(error.__cause__, "diag", None)
    return getattr(diag, "constraint_name", None) or ""


def instructors(keys: Iterable[int]) -> dict[int, models.Instructor]:
    """Raises Instructor.DoesNotExist unless all are there; so do the others."""
    rows = models.Instructor.objects.select_related("person").select_for_update(no_key=True, of=("self",))
    found = {row.pk: row for row in rows.filter(pk__in=set(keys)).order_by("pk")}
    return _all(found, set(keys), models.Instructor)


def clients(keys: Iterable[UUID]) -> dict[UUID, Client]:
    rows = Client.objects.select_related("contact").defer("wrapped_key", "notes")
    rows = rows.select_for_update(no_key=True, of=("self",))
    found = {row.pk: row for row in rows.filter(pk__in=set(keys)).order_by("pk")}
    return _all(found, set(keys), Client)


def apparatus(keys: Iterable[int]) -> None:
    with connection.cursor() as cursor:
        cursor.execute(APPARATUS, [list(set(keys))])
        found = {key: True for (key,) in cursor.fetchall()}
    _all(found, set(keys), models.Apparatus)


def lesson(key: UUID) -> models.Lesson:
    rows = models.Lesson.objects.select_related("room", "studio").select_for_update(no_key=True, of=("self",))
    return rows.get(pk=key)


def places(lesson_id: UUID) -> list[models.Place]:
    """All places of a lesson, by key."""
    rows = models.Place.objects.select_for_update(no_key=True).filter(lesson=lesson_id)
    return list(rows.order_by("pk"))


Key = TypeVar("Key")
Value = TypeVar("Value")


def _all(found: dict[Key, Value], wanted: set[Key], model: type[Model]) -> dict[Key, Value]:
    if missing := wanted - found.keys():
        raise model.DoesNotExist(f"no {model._meta.verbose_name} {sorted(map(str, missing))}")  # type: ignore[attr-defined]
    return found
