"""`manage.py erase_again`: after a restore, erase again whoever was erased since the backup was made."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils import timezone

from clients import actions


class Command(BaseCommand):
    help = "Erase again every client on the list of the erased; nothing happens to those that are erased."
    requires_system_checks: list[str] = []

    def handle(self, **options: Any) -> None:
        now = timezone.now()
        again, lost = actions.erase_again(now=now), actions.sweep_files(now=now)
        if again or lost or options["verbosity"] > 1:
            self.stdout.write(f"{again} cards erased again by {settings.ERASED_LIST.name}; {lost} files without a row.")
