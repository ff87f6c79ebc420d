"""Load the studio's starting reference: one command, safe to repeat, that refuses a broken file whole."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from programming.actions import reference, templates
from programming.queries import files
from programming.rules.repertoire import ChangeKind
from studio.rules import Refused

SHOWN = 40


class Command(BaseCommand):
    help = "Load the reference tables. What would change in a loaded studio is shown first and needs --apply."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--folder", type=Path, default=files.FOLDER, help="where the CSV files are")
        parser.add_argument("--preview", action="store_true", help="show what would change, change nothing")
        parser.add_argument("--apply", action="store_true", help="change a studio that is already loaded")

    def handle(self, *args: Any, folder: Path, preview: bool, apply: bool, **options: Any) -> None:
        try:
            tables = files.reference_tables(folder)
            plan = reference.preview_load(tables)
            self._show(plan)
            if preview:
                return
            if plan.changes_nothing:
                return self._first_templates()
            if not plan.is_first and not apply:
                self.stdout.write("Nothing was changed. Say --apply to take these over.")
                return
            reference.load_reference(tables, now=timezone.now())
        except (Refused, KeyError) as refused:
            raise CommandError(self._refusal(refused)) from refused
        self.stdout.write(f"Reference loaded: {len(tables['repertoire'])} exercises, {len(tables)} tables.")
        self._first_templates()

    def _first_templates(self) -> None:
        """A studio that has no template yet gets the shipped ones."""
        if made := templates.load_templates(files.shipped_templates(), now=timezone.now()):
            self.stdout.write(f"Templates made: {made}.")

    def _show(self, plan: reference.Preview) -> None:
        if plan.is_first:
            return
        if plan.changes_nothing:
            self.stdout.write("The reference is as loaded; nothing would change.")
        if plan.clinical:
            self.stdout.write("clinical tables: a version of the rules would be proposed, for the owner to compare")
        for name in plan.tables:
            self.stdout.write(f"{name}: replaced")
        for change in plan.changes[:SHOWN]:
            kept = " (yours is kept)" if change.kind is ChangeKind.KEPT_OWN else ""
            cell = f" {change.column}: {change.before!r} -> {change.after!r}" if change.column else ""
            self.stdout.write(f"{change.id} {change.kind.value.replace('_', ' ')}{cell}{kept}")
        if len(plan.changes) > SHOWN:
            self.stdout.write(f"… and {len(plan.changes) - SHOWN} more")

    def _refusal(self, refused: Exception) -> str:
        if isinstance(refused, Refused):
            return "The reference is broken and nothing was loaded:\n" + "\n".join(
                reason.says for reason in refused.reasons
            )
        return f"a table is missing: {refused.args[0]}"
