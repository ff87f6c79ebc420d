"""Shared things a line is done with, and the quarter hours a program needs them for."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduling.rules.items import ItemKind, whole_quarters
from studio.rules import ApparatusKind, Span


@dataclass(frozen=True)
class Want:
    """One item of a kind for a span of whole quarter hours."""

    kind: ItemKind
    span: Span


def items_of(
    setup: Mapping[str, str], apparatus: ApparatusKind, own: ApparatusKind | None = None
) -> frozenset[ItemKind]:
    """The shared things a line needs: its box, its pole, the tower's bar, the chair.

    `own` is the kind of the machine the person has to herself: whoever has a chair shares none.
    """
    found = set()
    if setup.get("box", "none") != "none":
        found.add(ItemKind.BOX)
    if "pole" in setup or setup.get("attach") == "pole":
        found.add(ItemKind.POLE)
    if apparatus is ApparatusKind.TOWER and "bar" in setup:
        found.add(ItemKind.TOWER_BAR)
    if apparatus is ApparatusKind.CHAIR and own is not ApparatusKind.CHAIR:
        found.add(ItemKind.CHAIR)
    return frozenset(found)


def wants(used: Iterable[tuple[ItemKind, float, float]], *, starts: datetime, ends: datetime) -> tuple[Want, ...]:
    """The quarter hours of a lesson in which items are needed, from uses in seconds after its start.

    Uses of one kind that touch the same or the next quarter are one want; nothing reaches beyond the lesson's own
    quarters.
    """
    by_kind: dict[ItemKind, list[Span]] = {}
    for kind, begins, lasts in used:
        begin = min(starts + timedelta(seconds=begins), ends - timedelta(seconds=1))
        end = min(max(begin + timedelta(seconds=1), starts + timedelta(seconds=begins + lasts)), ends)
        by_kind.setdefault(kind, []).append(whole_quarters(Span(begin, end)))
    return tuple(Want(kind, span) for kind in sorted(by_kind) for span in _joined(sorted(by_kind[kind], key=_start)))


def most_at_once(rounds: Sequence[Mapping[str, int]], kind: str) -> int:
    """How many of a kind are in use in the round that uses most."""
    return max((used.get(kind, 0) for used in rounds), default=0)


def _start(span: Span) -> datetime:
    return span.start


def _joined(spans: Sequence[Span]) -> list[Span]:
    out: list[Span] = []
    for span in spans:
        if out and span.start <= out[-1].end:
            out[-1] = Span(out[-1].start, max(out[-1].end, span.end))
        else:
            out.append(span)
    return out
