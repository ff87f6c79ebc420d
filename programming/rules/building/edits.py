"""Every change a builder knows, as one value; `made` applies it and says in one sentence what was done."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from programming.rules.building import counts, order
from programming.rules.building.draft import Draft, as_lines, at, short_name
from programming.rules.repertoire import ExerciseRow
from studio.rules import ApparatusKind, Reason, Refused

Rows = Mapping[str, ExerciseRow]


class Deed(StrEnum):
    """What is done with one line, or with the block it stands in."""

    UP = "up"
    DOWN = "down"
    BLOCK_UP = "block_up"
    BLOCK_DOWN = "block_down"
    OUT = "out"
    BLOCK_OUT = "block_out"
    LOOSEN = "loosen"
    JOIN = "join"
    MORE_SPRINGS = "more_springs"
    FEWER_SPRINGS = "fewer_springs"
    USUAL_SPRINGS = "usual_springs"
    MORE_REPS = "more_reps"
    FEWER_REPS = "fewer_reps"
    USUAL_REPS = "usual_reps"
    EASIER = "easier"
    AS_WRITTEN = "as_written"


@dataclass(frozen=True)
class Touch:
    """One tap at one line."""

    deed: Deed
    key: int


@dataclass(frozen=True)
class Move:
    """A line, or its block, carried to the gap before another line (0: to the end)."""

    key: int
    before: int
    whole_block: bool = False


@dataclass(frozen=True)
class PutRow:
    """One exercise; without `before` at its place in its series."""

    exercise_id: str
    before: int | None = None


@dataclass(frozen=True)
class PutSeries:
    """A series of one apparatus up to a level; parts that stand in the draft already are not put in twice."""

    apparatus: ApparatusKind
    series: str
    up_to: int = 5
    before: int | None = None


@dataclass(frozen=True)
class SetCounts:
    """Springs and repetitions by number, in place of steps; None leaves the usual."""

    key: int
    springs: int | None = None
    reps: int | None = None


@dataclass(frozen=True)
class SetWords:
    """Set-up, an extra on one side with its reason, a note."""

    key: int
    setup: Mapping[str, str] = field(default_factory=dict, hash=False)
    extra: int = 0
    reason: str = ""
    note: str = ""


Edit = Touch | Move | PutRow | PutSeries | SetCounts | SetWords


@dataclass(frozen=True)
class Made:
    """A draft after an edit. `says` is the deed in words, `follows` what came of it; `keys` are the lines touched."""

    lines: Draft
    says: str
    follows: tuple[str, ...] = ()
    keys: tuple[int, ...] = ()


def made(lines: Draft, edit: Edit, repertoire: Rows) -> Made:
    """The draft after one edit. Raises Refused for a line that is not there and for what the rules of counts refuse."""
    match edit:
        case PutRow():
            return _put(lines, [edit.exercise_id], edit.before, repertoire)
        case PutSeries():
            return _put_series(lines, edit, repertoire)
        case Move():
            return _moved(lines, edit, repertoire)
        case SetCounts():
            return _set_counts(lines, edit, repertoire)
        case SetWords():
            after = counts.with_words(
                lines, edit.key, setup=edit.setup, extra=edit.extra, reason=edit.reason, note=edit.note,
                repertoire=repertoire,
            )  # fmt: skip
            return Made(after, f"{_name(lines, edit.key, repertoire)}: set-up and words kept.", keys=(edit.key,))
        case Touch():
            return _touched(lines, edit, repertoire)


def _put(lines: Draft, ids: list[str], before: int | None, repertoire: Rows) -> Made:
    after = order.put(lines, ids, repertoire, before=before)
    counted = counts.after_putting(after, ids, repertoire)
    had = {line.key for line in lines}
    keys = tuple(line.key for line in counted.lines if line.key not in had)
    place = at(counted.lines, keys[0]) + 1
    first = short_name(repertoire[ids[0]])
    says = f"{first} is line {place}." if len(ids) == 1 else f"{repertoire[ids[0]].series}: {len(ids)} parts put in."
    twice = (
        [f"{first} stands in it twice now."] if len(ids) == 1 and any(x.exercise_id == ids[0] for x in lines) else []
    )
    return Made(counted.lines, says, (*twice, *counted.follows), keys)


def _put_series(lines: Draft, edit: PutSeries, repertoire: Rows) -> Made:
    parts = sorted(
        (row for row in repertoire.values() if (row.apparatus, row.series) == (edit.apparatus, edit.series)),
        key=lambda row: row.position_in_series,
    )
    if not parts:
        raise Refused(Reason("no_such_series", "There is no such series.", "deed", "Choose one of the list."))
    there = {line.exercise_id for line in lines}
    ids = [row.id for row in parts if row.level <= edit.up_to and row.id not in there]
    if not ids:
        says = f"Nothing of {edit.series} is left to put in up to level {edit.up_to}."
        raise Refused(Reason("nothing_left", says, "deed", "Put in a single part by its own button."))
    put = _put(lines, ids, edit.before, repertoire)
    above = [short_name(row) for row in parts if row.level > edit.up_to]
    told = (f"Above level {edit.up_to} and left out: {', '.join(above[:4])}{' and more' * (len(above) > 4)}.",)
    return Made(put.lines, put.says, put.follows + (told if above else ()), put.keys)


def _moved(lines: Draft, edit: Move, repertoire: Rows) -> Made:
    carry = order.move_block if edit.whole_block else order.move
    after = carry(lines, edit.key, before=edit.before)
    return _placed(lines, after, edit.key, repertoire, whole_block=edit.whole_block)


def _placed(lines: Draft, after: Draft, key: int, repertoire: Rows, *, whole_block: bool = False) -> Made:
    name = _name(lines, key, repertoire)
    block = [line.key for line in lines if line.block == lines[at(lines, key)].block]
    if whole_block and len(block) > 1:
        name = repertoire[lines[at(lines, key)].exercise_id].series
    place = at(after, block[0] if whole_block else key)
    where = f"after {_name(after, after[place - 1].key, repertoire)}" if place else "first"
    return Made(after, f"{name} comes {where} now.", keys=tuple(block) if whole_block else (key,))


def _set_counts(lines: Draft, edit: SetCounts, repertoire: Rows) -> Made:
    now, follows = lines, tuple[str, ...]()
    row = repertoire[lines[at(lines, edit.key)].exercise_id]
    if edit.springs is not None or lines[at(lines, edit.key)].springs is not None:
        done = counts.with_springs(now, edit.key, edit.springs, repertoire)
        now, follows = done.lines, done.follows
    counted = counts.with_reps(now, edit.key, edit.reps, repertoire)
    return Made(counted.lines, f"{short_name(row)}: counts kept.", (*follows, *counted.follows), (edit.key,))


def _touched(lines: Draft, edit: Touch, repertoire: Rows) -> Made:
    match edit.deed:
        case Deed.UP | Deed.DOWN:
            after = order.step(lines, edit.key, up=edit.deed is Deed.UP)
            return _placed(lines, after, edit.key, repertoire)
        case Deed.BLOCK_UP | Deed.BLOCK_DOWN:
            after = order.step_block(lines, edit.key, up=edit.deed is Deed.BLOCK_UP)
            return _placed(lines, after, edit.key, repertoire, whole_block=True)
        case Deed.OUT | Deed.BLOCK_OUT:
            return _taken_out(lines, edit, repertoire)
        case Deed.LOOSEN:
            return Made(order.loosen(lines, edit.key), "The block is single lines now.", keys=(edit.key,))
        case Deed.JOIN:
            name = _name(lines, edit.key, repertoire)
            return Made(order.join(lines, edit.key), f"{name} moves with the block above it now.", keys=(edit.key,))
        case Deed.EASIER | Deed.AS_WRITTEN:
            adapted = edit.deed is Deed.EASIER
            after = counts.with_form(lines, edit.key, adapted=adapted, repertoire=repertoire)
            form = "in its easier form" if adapted else "as written"
            return Made(after, f"{_name(lines, edit.key, repertoire)} {form}.", keys=(edit.key,))
        case _:
            return _counted(lines, edit, repertoire)


def _taken_out(lines: Draft, edit: Touch, repertoire: Rows) -> Made:
    name = _name(lines, edit.key, repertoire)
    whole = edit.deed is Deed.BLOCK_OUT
    after = order.out(lines, edit.key, whole_block=whole)
    had = {line.key: line.exercise_id for line in lines}
    gone = [had[key] for key in had.keys() - {line.key for line in after}]
    counted = counts.after_taking_out(after, gone, repertoire)
    if whole and len(gone) > 1:
        name = f"{repertoire[gone[0]].series}, {len(gone)} lines,"
    return Made(counted.lines, f"{name} taken out.", counted.follows)


def _counted(lines: Draft, edit: Touch, repertoire: Rows) -> Made:
    line = lines[at(lines, edit.key)]
    row = repertoire[line.exercise_id]
    if edit.deed in (Deed.MORE_SPRINGS, Deed.FEWER_SPRINGS, Deed.USUAL_SPRINGS):
        here = as_lines([line], repertoire)[0].springs
        wanted = (
            None if edit.deed is Deed.USUAL_SPRINGS else (here or 0) + (1 if edit.deed is Deed.MORE_SPRINGS else -1)
        )
        done = counts.with_springs(lines, edit.key, wanted, repertoire)
        says = f"{short_name(row)}: {_spring_words(row.springs_usual if wanted is None else wanted)}."
    else:
        steps = {Deed.MORE_REPS: True, Deed.FEWER_REPS: False}
        reps = counts.stepped(line, row, more=steps[edit.deed]) if edit.deed in steps else None
        done = counts.with_reps(lines, edit.key, reps, repertoire)
        says = f"{short_name(row)}: {'the usual repetitions' if reps is None else f'{reps} repetitions'}."
    return Made(done.lines, says, done.follows, (edit.key,))


def _spring_words(count: int | None) -> str:
    return "one spring" if count == 1 else f"{count or 'no'} springs"


def _name(lines: Draft, key: int, repertoire: Rows) -> str:
    return short_name(repertoire[lines[at(lines, key)].exercise_id])
