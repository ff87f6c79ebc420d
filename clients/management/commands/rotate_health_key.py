"""`manage.py rotate_health_key`: wrap every client's data key by the new key of the house, in batches."""

import argparse
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from clients.actions import keys as actions
from studio import keys

KEPT_AT = settings.VAR_DIR / "keys.json"


class Command(BaseCommand):
    help = (
        "Wrap every client's data key by HEALTH_KEY, opening those of before with HEALTH_KEY_BEFORE. "
        "It may be stopped and run again."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        step = parser.add_mutually_exclusive_group()
        step.add_argument("--new-key", action="store_true", help="on a house machine: make the new key, then restart")
        step.add_argument("--forget", action="store_true", help="on a house machine: drop the key before, at the end")
        parser.add_argument("--batch", type=int, default=actions.BATCH, help="clients a transaction")

    def handle(self, *, new_key: bool, forget: bool, batch: int, **options: Any) -> None:
        if settings.PRODUCTION and (new_key or forget):
            raise CommandError("Here the keys come from the environment: set HEALTH_KEY and HEALTH_KEY_BEFORE.")
        if new_key:
            self._make_key()
        elif forget:
            self._forget()
        else:
            self._rewrap(max(1, batch))

    def _rewrap(self, batch: int) -> None:
        counts = actions.Rewrapped()
        while not counts.is_whole:
            actions.rewrap_some(counts, batch=batch)
            self.stdout.write(f"{counts.anew} wrapped anew, {counts.already} already.")
        if counts.shut:
            for client_id in counts.shut:
                self.stderr.write(f"client {client_id}: wrapped by neither key")
            raise CommandError(f"{len(counts.shut)} stay as they were: HEALTH_KEY_BEFORE is not the key they need.")
        self.stdout.write("Every client's key is wrapped by HEALTH_KEY. HEALTH_KEY_BEFORE can go.")

    def _make_key(self) -> None:
        try:
            keys.change_health_key(KEPT_AT)
        except ValueError as error:
            raise CommandError(str(error)) from error
        self.stdout.write("A new key is kept. Restart the house, then run this again without --new-key.")

    def _forget(self) -> None:
        if left := actions.behind():
            raise CommandError(f"{left} clients' keys are still wrapped by the key before. Run this without --forget.")
        keys.forget_health_key_before(KEPT_AT)
        self.stdout.write("The key before is forgotten. Restart the house.")
