"""The walk through a program at the machine: what to hook or unhook before each line, and how the bar then looks."""

from collections.abc import Sequence
from dataclasses import dataclass

from programming.rules.springs import SpringSet, change_words
from studio.rules import ApparatusKind

CLASSES = (("H", "heavy"), ("M", "medium"), ("L", "light"))


@dataclass(frozen=True)
class Hook:
    """One spring on the bar: its letter, and `on`, `off`, `unhook` (take it off now) or `hook` (put it on now)."""

    letter: str
    state: str


@dataclass(frozen=True)
class Setting:
    """What to do at the machine before a line, in words, and the springs of its bar; no hooks where it has none."""

    words: str
    hooks: tuple[Hook, ...]


def settings(
    lines: Sequence[tuple[ApparatusKind, SpringSet | None]], inventory: SpringSet | None
) -> tuple[Setting, ...]:
    """The setting before each line, in order; each apparatus keeps the springs it was left with.

    `inventory` are all springs of the reformer; other apparatus show the springs in question only.
    """
    left: dict[ApparatusKind, SpringSet | None] = {}
    out = []
    for kind, springs in lines:
        before = left.get(kind)
        whole = inventory if kind is ApparatusKind.REFORMER and inventory else None
        out.append(Setting(change_words(before, springs), hooks(whole, before, springs)))
        left[kind] = springs
    return tuple(out)


def hooks(inventory: SpringSet | None, before: SpringSet | None, after: SpringSet | None) -> tuple[Hook, ...]:
    """Every spring of the bar, heaviest first, with what becomes of it."""
    have, want = before or SpringSet(), after or SpringSet()
    found: list[Hook] = []
    for letter, name in CLASSES:
        had, wanted = getattr(have, name), getattr(want, name)
        stay, moved = min(had, wanted), max(had, wanted)
        total = max(getattr(inventory, name) if inventory else 0, moved)
        found += [Hook(letter, "on")] * stay
        found += [Hook(letter, "unhook" if had > wanted else "hook")] * (moved - stay)
        found += [Hook(letter, "off")] * (total - moved)
    return tuple(found)
