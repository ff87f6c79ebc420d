"""Celery's doors: each runs one action and is safe to repeat."""

from celery import shared_task
from django.utils import timezone

from clients import actions


@shared_task
def raise_due_reviews() -> int:
    return actions.raise_due_reviews(now=timezone.now())
