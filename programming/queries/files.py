"""The shipped reference and the shipped templates, read from their files."""

import csv
import json
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from studio.rules import Reason, Refused

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "reference"
TEMPLATES = Path(settings.BASE_DIR) / "fixtures" / "templates.json"


@dataclass(frozen=True)
class ShippedLine:
    exercise_id: str
    springs: int | None
    reps: int | None
    note: str


@dataclass(frozen=True)
class ShippedTemplate:
    """A template as its file has it; `kind` is the apparatus it is taught on."""

    name: str
    aim: str
    kind: str
    level: int
    minutes: int
    lines: tuple[ShippedLine, ...]


def reference_tables(folder: Path = FOLDER) -> dict[str, list[dict[str, str]]]:
    """Every CSV file of the folder by name. Raises Refused with file, line and reason for one that is no table."""
    tables: dict[str, list[dict[str, str]]] = {}
    for path in sorted(folder.glob("*.csv")):
        try:
            tables[path.stem] = _read(path)
        except UnicodeDecodeError as error:
            raise _broken(f"{path.name}: not UTF-8 text ({error.reason})", path) from error
    if not tables:
        raise _broken(f"no CSV file in {folder.name}", folder)
    return tables


def _read(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as handle:
        reader = csv.reader(handle)
        header = next(reader, [])
        rows = []
        for cells in reader:
            if len(cells) != len(header):
                says = f"{path.name}, line {reader.line_num}: {len(cells)} columns where the header has {len(header)}"
                raise _broken(says, path)
            rows.append(dict(zip(header, cells, strict=True)))
        return rows


def shipped_templates(path: Path = TEMPLATES) -> tuple[ShippedTemplate, ...]:
    """The templates a new studio starts with, in the order of the file."""
    return tuple(
        ShippedTemplate(
            name=found["name"],
            aim=found["aim"],
            kind=found["kind"],
            level=found["level"],
            minutes=found["minutes"],
            lines=tuple(_line(line) for line in found["lines"]),
        )
        for found in json.loads(path.read_text(encoding="utf-8"))
    )


def _line(found: str | dict[str, object]) -> ShippedLine:
    """A line is an exercise id, or an object with what differs from the usual of its row."""
    if isinstance(found, str):
        return ShippedLine(found, None, None, "")
    springs, reps = found.get("springs"), found.get("reps")
    return ShippedLine(
        str(found["exercise"]),
        springs if isinstance(springs, int) else None,
        reps if isinstance(reps, int) else None,
        str(found.get("note", "")),
    )


def _broken(says: str, path: Path) -> Refused:
    return Refused(Reason("broken_reference", says, path.stem))
