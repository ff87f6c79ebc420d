"""Load the studio's starting reference: one command, safe to repeat, that refuses a broken file whole."""

import csv
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from programming.actions import reference
from programming.rules.repertoire import ChangeKind
from studio.rules import Refused

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "reference"
SHOWN = 40


def read_tables(folder: Path) -> dict[str, list[dict[str, str]]]:
    """Every CSV file of the folder by name. Raises CommandError with file, line and reason for one that is no table."""
    tables: dict[str, list[dict[str, str]]] = {}
    for path in sorted(folder.glob("*.csv")):
        try:
            tables[path.stem] = _read(path)
        except UnicodeDecodeError as error:
            raise CommandError(f"{path.name}: not UTF-8 text ({error.reason})") from error
    if not tables:
        raise CommandError(f"no CSV file in {folder}")
    return tables


def _read(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as handle:
        reader = csv.reader(handle)
        header = next(reader, [])
        rows = []
        for cells in reader:
            if len(cells) != len(header):
                raise CommandError(
                    f"{path.name}, line {reader.line_num}: {len(cells)} columns where the header has {len(header)}"
                )
            rows.append(dict(zip(header, cells, strict=True)))
        return rows


class Command(BaseCommand):
    help = "Load the reference tables. What would change in a loaded studio is shown first and needs --apply."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--folder", type=Path, default=FOLDER, help="where the CSV files are")
        parser.add_argument("--preview", action="store_true", help="show what would change, change nothing")
        parser.add_argument("--apply", action="store_true", help="change a studio that is already loaded")

    def handle(self, *args: Any, folder: Path, preview: bool, apply: bool, **options: Any) -> None:
        tables = read_tables(folder)
        try:
            plan = reference.preview_load(tables)
            self._show(plan)
            if plan.changes_nothing or preview:
                return
            if not plan.is_first and not apply:
                self.stdout.write("Nothing was changed. Say --apply to take these over.")
                return
            reference.load_reference(tables, now=timezone.now())
        except (Refused, KeyError) as refused:
            raise CommandError(self._refusal(refused)) from refused
        self.stdout.write(f"Reference loaded: {len(tables['repertoire'])} exercises, {len(tables)} tables.")

    def _show(self, plan: reference.Preview) -> None:
        if plan.is_first:
            return
        if plan.changes_nothing:
            self.stdout.write("The reference is as loaded; nothing would change.")
        if plan.clinical:
            self.stdout.write("clinical tables: a new version of the rule set would be put in force")
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
