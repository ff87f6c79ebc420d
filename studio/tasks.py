"""Celery's doors of the studio."""

from celery import shared_task
from django.utils import timezone

from studio.actions import notices

# A round this small ends well inside the time limit, even when every answer is slow.
ROUND = 10


@shared_task
def send_due_notices() -> None:
    """Send what is due, round by round. Harmless to repeat and to run many times at once."""
    while True:
        counts = notices.send_due(now=timezone.now(), limit=ROUND)
        if counts.away or counts.seen < ROUND:
            return
