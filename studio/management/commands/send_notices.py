"""`manage.py send_notices --once`: send what is due without any broker, for cron or a systemd timer."""

import argparse
import time
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from studio.actions import notices

PAUSE_SECONDS = 60


class Command(BaseCommand):
    help = "Send the notices that are due, with no broker: once, or every minute until stopped."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="send what is due now and leave")

    def handle(self, *, once: bool, **options: Any) -> None:
        while True:
            self.send()
            if once:
                return
            time.sleep(PAUSE_SECONDS)

    def send(self) -> None:
        sent = unsure = refused = 0
        while True:
            counts = notices.send_due(now=timezone.now())
            sent, unsure, refused = sent + counts.sent, unsure + counts.unsure, refused + counts.refused
            if counts.away:
                self.stderr.write("The mail server does not answer; what is due stays in the outbox.")
            if counts.away or not counts.seen:
                break
        self.stdout.write(f"{sent} sent, {refused} refused, {unsure} unsure")
