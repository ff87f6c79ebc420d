"""Celery's doors: each runs one action and is safe to repeat."""

from uuid import UUID

from celery import shared_task
from django.utils import timezone

from clients import actions
from clients.actions import runs


@shared_task
def raise_due_reviews() -> int:
    return actions.raise_due_reviews(now=timezone.now())


@shared_task
def remind_of_letters() -> int:
    """How many clients were written to."""
    return actions.remind_due(now=timezone.now())


@shared_task
def look_again() -> int:
    """How many clients were screened anew."""
    return actions.look_again(now=timezone.now()).screened


@shared_task
def go_on_with_run(run_id: str) -> bool:
    """Whether there may be more, for which the task asks again itself."""
    return runs.go_on(UUID(run_id), now=timezone.now())


@shared_task
def pick_up_runs() -> int:
    """How many passes of the rules are not over."""
    return runs.pick_up_runs()
