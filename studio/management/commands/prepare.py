"""`manage.py prepare`: tables, reference data and the demo studio; what is there already is left alone.

After a restore it erases again whoever was erased since the backup was made.
"""

import argparse
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from studio import queries
from studio.rules import first_day


class Command(BaseCommand):
    help = "Bring the tables up to date; load the reference data and build the demo while no studio is set up."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--no-demo", action="store_true", help="leave an empty database empty")

    def handle(self, *, no_demo: bool, **options: Any) -> None:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            self.say("Preparing the tables ...")
            call_command("migrate", interactive=False, verbosity=1)
        # Before anybody can log in: an older backup knows clients that were erased since.
        call_command("erase_again")
        # A studio at work may have edited its repertoire: from then on a reload is the owner's decision.
        if queries.is_set_up():
            return
        self.say("Loading the reference data ...")
        call_command("load_reference")
        # Somebody may be in the middle of the first set-up: only a house without people gets invented ones.
        if not no_demo and not get_user_model().objects.exists():
            self.say("Building the demo studio (once; up to two minutes) ...")
            call_command("build_demo")
        if settings.PRODUCTION and not queries.anybody():
            self.say(f"The code of the first day: {first_day.code(settings.SECRET_KEY)}")
            self.say("Whoever makes the first account at /welcome/ is asked for it; afterwards it opens nothing.")

    def say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()
