"""What a reload of the reference would change in the studio's own rows, before it does."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from programming.rules.reference.faults import Row


class ChangeKind(StrEnum):
    ADDED = "added"
    CHANGED = "changed"
    REMOVED = "removed"
    KEPT_OWN = "kept_own"


@dataclass(frozen=True)
class Change:
    """One cell (changed, kept_own) or one whole row (added, removed; `column` empty) that differs.

    For `kept_own` the studio's value `before` stays; `after` is what the reference now says.
    """

    kind: ChangeKind
    id: str
    column: str
    before: str
    after: str


def changes(
    current_rows: Sequence[Row], incoming_rows: Sequence[Row], *, edited: Collection[str] = (), key: str = "id"
) -> list[Change]:
    """Differences in the order of the incoming rows, removed ones last; rows whose key is in `edited` are kept."""
    incoming = {row[key]: row for row in incoming_rows}
    current = {row[key]: row for row in current_rows}
    found: list[Change] = []
    for name, after in incoming.items():
        if name in current:
            kind = ChangeKind.KEPT_OWN if name in edited else ChangeKind.CHANGED
            found.extend(_cells(kind, name, current[name], after))
        else:
            found.append(Change(ChangeKind.ADDED, name, "", "", ""))
    for name in current:
        if name not in incoming:
            kind = ChangeKind.KEPT_OWN if name in edited else ChangeKind.REMOVED
            found.append(Change(kind, name, "", "", ""))
    return found


def _cells(kind: ChangeKind, name: str, before: Row, after: Row) -> Iterator[Change]:
    for column, value in after.items():
        if before.get(column, "") != value:
            yield Change(kind, name, column, before.get(column, ""), value)
