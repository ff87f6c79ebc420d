"""Shared things a line is done with, and the quarter hours a program or a group needs them for."""

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import TypeVar

from scheduling.rules.items import ItemKind, quarters_of, whole_quarters
from studio.rules import ApparatusKind, Span

Key = TypeVar("Key", bound=Hashable)
SECOND = timedelta(seconds=1)


@dataclass(frozen=True)
class Use:
    """One item of a kind in use by one person, in seconds after the beginning of the lesson."""

    kind: ItemKind
    begins: float
    lasts: float


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


def wants(uses: Iterable[Use], lesson: Span) -> tuple[Want, ...]:
    """The quarter hours of a lesson in which one person needs items; touching quarters of one kind are one want.

    What runs over the end of the lesson wants its last quarter.
    """
    quarters = [(use.kind, quarter) for use in uses for quarter in quarters_of(_inside(use, lesson))]
    return tuple(_joined(quarters))


def wants_of_group(rounds: Sequence[Mapping[Key, Sequence[Use]]], lesson: Span) -> dict[Key, tuple[Want, ...]]:
    """What a group needs for which quarter hours: of each kind as many as its fullest round, not one for each person.

    The items are held in the names of those who are first to use them; they hand them on from round to round.
    """
    names: dict[tuple[ItemKind, Span], dict[Key, None]] = {}
    most: Counter[tuple[ItemKind, Span]] = Counter()
    for at in rounds:
        here = [(key, slot) for key, uses in at.items() for slot in _slots(uses, lesson)]
        for key, slot in here:
            names.setdefault(slot, {})[key] = None
        most |= Counter(slot for _, slot in here)
    held = [(key, slot) for slot, count in most.items() for key in list(names[slot])[:count]]
    return {key: tuple(_joined([slot for holder, slot in held if holder == key])) for key in dict(held)}


def _slots(uses: Sequence[Use], lesson: Span) -> Iterator[tuple[ItemKind, Span]]:
    for use in uses:
        yield from ((use.kind, quarter) for quarter in quarters_of(_inside(use, lesson)))


def _inside(use: Use, lesson: Span) -> Span:
    begin = min(lesson.start + timedelta(seconds=use.begins), lesson.end - SECOND)
    end = min(lesson.start + timedelta(seconds=use.begins + use.lasts), lesson.end)
    return whole_quarters(Span(begin, max(end, begin + SECOND)))


def _joined(quarters: Sequence[tuple[ItemKind, Span]]) -> Iterator[Want]:
    """Quarters of one kind that touch made one, kind by kind in order of time."""
    open_want: Want | None = None
    for kind, span in sorted(set(quarters)):
        if open_want and open_want.kind is kind and open_want.span.end == span.start:
            open_want = Want(kind, Span(open_want.span.start, span.end))
            continue
        if open_want:
            yield open_want
        open_want = Want(kind, span)
    if open_want:
        yield open_want
