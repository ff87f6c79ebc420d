"""Celery's doors: each runs one action and is safe to repeat."""

from celery import shared_task
from django.utils import timezone

from scheduling import actions


@shared_task
def lay_reminders() -> int:
    return actions.lay_reminders(now=timezone.now())
