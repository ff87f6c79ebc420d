"""Celery's doors: each runs one action and is safe to repeat."""

from celery import shared_task
from django.utils import timezone

from programming.actions import nightly


@shared_task
def compare_programs() -> int:
    """How many programs turned out to be fitted for what is not so any more, or to be right again."""
    return nightly.compare_programs(now=timezone.now())
