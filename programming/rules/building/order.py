"""Where lines stand: put in, moved, taken out, singly or as a block. A series is never broken by a button."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from programming.rules.building.draft import MOST_LINES, Draft, DraftLine, at, blocks, next_key, series_of, tidy
from programming.rules.repertoire import ExerciseRow
from studio.rules import Reason, Refused

# No block of a tidy draft has this number: whoever gets it stands alone.
ALONE = 0


def put(lines: Draft, ids: Sequence[str], repertoire: Mapping[str, ExerciseRow], *, before: int | None = None) -> Draft:
    """New lines for these exercises of one series, as one block.

    With `before` (a key, 0 for the end) they stand there. Without, they go to their place in the block of their
    series when the draft has one, else to the end. Raises Refused for an unknown exercise and a draft that is full.
    """
    if unknown := [key for key in ids if key not in repertoire]:
        says = f"Not in the repertoire: {', '.join(unknown)[:80]}."
        raise Refused(Reason("no_such_exercise", says, "deed", "Choose one of the list."))
    if len(lines) + len(ids) > MOST_LINES:
        says = f"That would be more than {MOST_LINES} lines."
        raise Refused(Reason("too_many_lines", says, "deed", "Take some out first."))
    fresh = [DraftLine(next_key(lines) - place, key) for place, key in enumerate(ids)]
    if before is None:
        return tidy(_in_series(lines, fresh, repertoire))
    return tidy(_at_gap(lines, fresh, _gap(lines, before), repertoire))


def _in_series(lines: Draft, fresh: list[DraftLine], repertoire: Mapping[str, ExerciseRow]) -> list[DraftLine]:
    series = series_of(fresh[0], repertoire)
    home = next((block for block in blocks(lines) if series_of(block[0], repertoire) == series), None)
    if home is None:
        return [*lines, *_as_block(lines, fresh)]
    whole = [*home, *(replace(line, block=home[0].block) for line in fresh)]
    # Stable: what the teacher has turned round inside the block stays as it is.
    for line in whole[len(home) :]:
        whole.remove(line)
        order = repertoire[line.exercise_id].position_in_series
        later = (n for n, one in enumerate(whole) if repertoire[one.exercise_id].position_in_series > order)
        whole.insert(next(later, len(whole)), line)
    start = at(lines, home[0].key)
    return [*lines[:start], *whole, *lines[start + len(home) :]]


def _at_gap(lines: Draft, fresh: list[DraftLine], gap: int, repertoire: Mapping[str, ExerciseRow]) -> list[DraftLine]:
    if len(fresh) > 1:
        gap = _edge(lines, gap)
    left = lines[gap - 1] if gap else None
    right = lines[gap] if gap < len(lines) else None
    inside = left is not None and right is not None and left.block == right.block
    series = series_of(fresh[0], repertoire)
    beside = next((one for one in (left, right) if one is not None and series_of(one, repertoire) == series), None)
    if inside and left is not None:
        fresh = [replace(line, block=left.block) for line in fresh]
    elif beside is not None:
        fresh = [replace(line, block=beside.block) for line in fresh]
    else:
        fresh = _as_block(lines, fresh)
    return [*lines[:gap], *fresh, *lines[gap:]]


def _as_block(lines: Draft, fresh: list[DraftLine]) -> list[DraftLine]:
    number = max((line.block for line in lines), default=0) + 1
    return [replace(line, block=number) for line in fresh]


def move(lines: Draft, key: int, *, before: int) -> Draft:
    """One line to the gap before another (0: to the end). Dropped inside a block it joins it, else it stands alone.

    Beside lines of its own block it stays in it.
    """
    place = at(lines, key)
    if before == key:
        return lines
    line, rest = lines[place], lines[:place] + lines[place + 1 :]
    gap = _gap(rest, before)
    around = [one.block for one in rest[max(0, gap - 1) : gap + 1]]
    if line.block in around:
        block = line.block
    elif len(around) == 2 and around[0] == around[1]:
        block = around[0]
    else:
        block = ALONE
    return tidy([*rest[:gap], replace(line, block=block), *rest[gap:]])


def move_block(lines: Draft, key: int, *, before: int) -> Draft:
    """The whole block of a line to a gap (0: the end); a gap inside another block gives way to its nearer edge."""
    block = lines[at(lines, key)].block
    own = [line for line in lines if line.block == block]
    if before in {line.key for line in own}:
        return lines
    rest = tuple(line for line in lines if line.block != block)
    gap = _edge(rest, _gap(rest, before))
    return tidy([*rest[:gap], *own, *rest[gap:]])


def step(lines: Draft, key: int, *, up: bool) -> Draft:
    """One line one place on inside its block; from the edge of it out of the block and past the whole next one."""
    place = at(lines, key)
    line = lines[place]
    beside = place - 1 if up else place + 1
    if 0 <= beside < len(lines) and lines[beside].block == line.block:
        swapped = list(lines)
        swapped[place], swapped[beside] = swapped[beside], swapped[place]
        return tidy(swapped)
    alone = tidy([*lines[:place], replace(line, block=ALONE), *lines[place + 1 :]])
    if not 0 <= beside < len(lines):
        return alone
    return step_block(alone, key, up=up)


def step_block(lines: Draft, key: int, *, up: bool) -> Draft:
    """The block of a line past the block before or after it; the first one stays the first."""
    runs = blocks(lines)
    here = next(n for n, run in enumerate(runs) if run[0].block == lines[at(lines, key)].block)
    there = here - 1 if up else here + 1
    if not 0 <= there < len(runs):
        return lines
    runs[here], runs[there] = runs[there], runs[here]
    return tidy([line for run in runs for line in run])


def out(lines: Draft, key: int, *, whole_block: bool = False) -> Draft:
    """Without a line, or without its whole block."""
    gone = lines[at(lines, key)]
    return tidy([one for one in lines if (one.block != gone.block if whole_block else one.key != key)])


def loosen(lines: Draft, key: int) -> Draft:
    """The block of a line taken apart: each of its lines stands alone."""
    block = lines[at(lines, key)].block
    return tidy([replace(line, block=ALONE) if line.block == block else line for line in lines])


def join(lines: Draft, key: int) -> Draft:
    """The block of a line made one with the block before it; the first has none before it and stays."""
    place = at(lines, key)
    block = lines[place].block
    start = next(n for n, line in enumerate(lines) if line.block == block)
    if not start:
        return lines
    above = lines[start - 1].block
    return tidy([replace(line, block=above) if line.block == block else line for line in lines])


def _gap(lines: Sequence[DraftLine], before: int) -> int:
    return at(lines, before) if before else len(lines)


def _edge(lines: Sequence[DraftLine], gap: int) -> int:
    """The gap itself, or the nearer end of the block it lies in."""
    if not 0 < gap < len(lines) or lines[gap - 1].block != lines[gap].block:
        return gap
    block = lines[gap].block
    start = next(n for n, line in enumerate(lines) if line.block == block)
    end = start + sum(line.block == block for line in lines)
    return start if gap - start < end - gap else end
