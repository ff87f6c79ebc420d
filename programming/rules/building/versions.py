"""Two versions of a template beside each other, line by line."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from programming.rules.lines import Line, reps_words


class Difference(StrEnum):
    SAME = "same"
    CHANGED = "changed"
    MOVED = "moved"
    ADDED = "added"
    GONE = "gone"


@dataclass(frozen=True)
class Compared:
    """One row: places in both versions from 1, None where it is not there; what differs, in words."""

    what: Difference
    name: str
    before: int | None
    after: int | None
    words: tuple[str, ...] = ()


def compared(before: Sequence[Line], after: Sequence[Line]) -> tuple[Compared, ...]:
    """Every line of both, in the order of the later one; what is gone stands where it was.

    A line is the same when it names the same exercise; one that stands elsewhere in the order is moved.
    """
    mine, theirs = [line.row.id for line in before], [line.row.id for line in after]
    stayed: dict[int, int] = {}
    for block in difflib.SequenceMatcher(None, mine, theirs, autojunk=False).get_matching_blocks():
        stayed |= {block.b + n: block.a + n for n in range(block.size)}
    moved = _moved(mine, theirs, stayed)
    found = stayed | moved
    rows = [_row(before, after, place, found.get(place), place in moved) for place in range(len(after))]
    gone = [place for place in range(len(mine)) if place not in found.values()]
    return _with_gone(rows, [Compared(Difference.GONE, before[n].row.name, n + 1, None) for n in gone])


def _moved(mine: Sequence[str], theirs: Sequence[str], stayed: dict[int, int]) -> dict[int, int]:
    left = [place for place in range(len(mine)) if place not in stayed.values()]
    out: dict[int, int] = {}
    for place, key in enumerate(theirs):
        if place not in stayed and (was := next((n for n in left if mine[n] == key), None)) is not None:
            left.remove(was)
            out[place] = was
    return out


def _row(before: Sequence[Line], after: Sequence[Line], place: int, was: int | None, is_moved: bool) -> Compared:
    line = after[place]
    if was is None:
        return Compared(Difference.ADDED, line.row.name, None, place + 1)
    words = differences(before[was], line)
    what = Difference.MOVED if is_moved else Difference.CHANGED if words else Difference.SAME
    return Compared(what, line.row.name, was + 1, place + 1, words)


def _with_gone(rows: Sequence[Compared], gone: Sequence[Compared]) -> tuple[Compared, ...]:
    out = list(rows)
    for one in gone:
        earlier = [
            place
            for place, row in enumerate(out, 1)
            if row.what is not Difference.MOVED and row.before is not None and row.before < (one.before or 0)
        ]
        out.insert(max(earlier, default=0), one)
    return tuple(out)


def differences(before: Line, after: Line) -> tuple[str, ...]:
    """What one exercise is asked differently, in words: springs, repetitions, form, set-up, sides, note apart."""
    found = []
    if before.springs != after.springs:
        found.append(f"springs {before.springs or 0} → {after.springs or 0}")
    was, now = (reps_words(line.row, line.plan.reps) for line in (before, after))
    if was != now:
        found.append(f"repetitions {was} → {now}")
    if before.plan.adapted != after.plan.adapted:
        found.append("in its easier form" if after.plan.adapted else "as written again")
    for key in sorted(before.setup.keys() | after.setup.keys()):
        if before.setup.get(key) != after.setup.get(key):
            found.append(f"{key.replace('_', ' ')} {before.setup.get(key, '–')} → {after.setup.get(key, '–')}")
    if before.plan.extra_one_side != after.plan.extra_one_side:
        found.append(f"extra on one side {before.plan.extra_one_side} → {after.plan.extra_one_side}")
    return tuple(found)
