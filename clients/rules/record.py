"""A record told in words for paper: labels and words out of plain values, keys that name nothing left out."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

EMPTY: tuple[Any, ...] = (None, "", [], {})
# Keys of other rows tell a reader nothing; the record for machines has them.
UNREAD = {
    "id",
    "client",
    "form",
    "rule_set",
    "contact",
    "log",
    "program",
    "program_line",
    "place",
    "source",
    "source_ids",
}
UNREAD_WITHIN = {"source_ids", "rule_id", "letter_id"}
# A key of a row, or a digest.
KEY = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}|[0-9a-f]{64}")
INSTANT = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d)\S*")
Words = Mapping[str, str]


def lines(row: Mapping[str, Any], words: Words) -> Iterator[tuple[str, str]]:
    """Label and words of each cell that says something; what is nested is told on lines of its own."""
    for key, value in row.items():
        if value not in EMPTY and key not in UNREAD:
            yield from _spread("" if key == "answers" else _called(key, words), value, words)


def _spread(label: str, value: Any, words: Words) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        # Beside its why, the demands are those of the exercise: they tell nothing of her.
        unread = UNREAD_WITHIN | ({"demands"} if "why" in value else set())
        for key, inner in value.items():
            if inner not in EMPTY and key not in unread:
                called = _called(str(key), words)
                yield from _spread(f"{label}, {called}" if label else called, inner, words)
    elif isinstance(value, list) and any(isinstance(one, Mapping | list) for one in value):
        for number, inner in enumerate(value, 1):
            yield from _spread(f"{label} {number}", inner, words)
    elif isinstance(value, list):
        yield label, ", ".join(_said(one, words) for one in value)
    elif not KEY.fullmatch(str(value)):
        yield label, _said(value, words)


def _said(value: Any, words: Words) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = str(value)
    return words.get(text, INSTANT.sub(r"\1 \2", text))


def _called(key: str, words: Words) -> str:
    """A column or an entry as people call it: a field of the form by its question."""
    question, _, part = key.partition(".")
    if question not in words:
        return key.replace("_", " ")
    return f"{words[question]}, {part.replace('_', ' ')}" if part else words[question]
