"""What a line asks for: springs that never rise inside a step-down, repetitions that parts share, form and set-up."""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from programming.rules.building.draft import Draft, DraftLine, as_lines, at, short_name
from programming.rules.lines import Line, whole_exercises
from programming.rules.pools import Pool, pools
from programming.rules.repertoire import ExerciseRow
from studio.rules import Reason, Refused

MOST_REPS = 120
MOST_EXTRA = 3
Rows = Mapping[str, ExerciseRow]


@dataclass(frozen=True)
class Counted:
    """A draft after a change of counts, and in words what followed from it."""

    lines: Draft
    follows: tuple[str, ...] = ()


def stepped(line: DraftLine, row: ExerciseRow, *, more: bool) -> int:
    """One repetition more or fewer than planned; from the middle of the range where none is planned."""
    if line.reps is not None:
        return line.reps + (1 if more else -1)
    return math.floor(row.mid_reps) + 1 if more else math.ceil(row.mid_reps) - 1


def with_reps(lines: Draft, key: int, reps: int | None, repertoire: Rows) -> Counted:
    """Repetitions as the row counts them; None is the usual. Parts that share a total give and take.

    Raises Refused outside 1 to 120.
    """
    place = at(lines, key)
    if reps is not None and not 1 <= reps <= MOST_REPS:
        says = "A line is done at least once." if reps < 1 else f"That is more than {MOST_REPS} repetitions."
        raise Refused(Reason("reps", says, "reps", f"1 to {MOST_REPS}; take the line out to leave it."))
    changed = _set(lines, {lines[place].exercise_id: reps}, only=key)
    pool = _pool_of(changed, lines[place].exercise_id, repertoire)
    if pool is None or reps is None:
        return Counted(changed)
    return _shared(changed, pool, lines[place].exercise_id, reps)


def _shared(lines: Draft, pool: Pool, changed_id: str, reps: int) -> Counted:
    """The other parts follow the one that was changed, where whole repetitions allow it; V8 says so where not."""
    recipient = pool.recipient
    if changed_id == recipient.id:
        counts: dict[str, int | None] = dict(pool.shares(reps))
    else:
        planned = {line.exercise_id: line.reps for line in lines}
        donors = {row.id: planned.get(row.id) or int(row.mid_reps) for row in pool.donors} | {changed_id: reps}
        left = pool.total - sum(donors[row.id] * row.side_factor for row in pool.donors)
        if left <= 0 or left % recipient.side_factor:
            return Counted(lines)
        counts = {recipient.id: left // recipient.side_factor, **donors}
    return Counted(_set(lines, counts), (f"{recipient.exercise} shares {pool.total}: {_told(pool, counts, reps)}.",))


def _told(pool: Pool, counts: Mapping[str, int | None], reps: int) -> str:
    rows = (*pool.donors, pool.recipient)
    return ", ".join(f"{_part(row)} {counts.get(row.id, reps)}{' a side' * (row.side_factor > 1)}" for row in rows)


def _part(row: ExerciseRow) -> str:
    return (row.part or row.exercise).partition(" (")[0]


def after_putting(lines: Draft, ids: Collection[str], repertoire: Rows) -> Counted:
    """A part that came in takes its repetitions from those it shares a total with; its springs do not rise."""
    lines, follows = _no_higher(lines, ids, repertoire)
    for pool in _touched(ids, repertoire):
        if _is_whole(lines, pool):
            count = pool.usual_recipient
            shares: dict[str, int | None] = {**pool.shares(count), pool.recipient.id: count}
            lines = _set(lines, shares)
            follows.append(f"{pool.recipient.exercise} shares {pool.total}: {_told(pool, shares, count)}.")
    return Counted(lines, tuple(follows))


def _no_higher(lines: Draft, ids: Collection[str], repertoire: Rows) -> tuple[Draft, list[str]]:
    lower: dict[str, int] = {}
    names: list[str] = []
    for run in whole_exercises(as_lines(lines, repertoire)):
        most = _count(run[0])
        for line in run[1:]:
            if line.row.id in ids and _count(line) > most >= (line.row.springs_min or 0):
                lower[line.planned_id] = most
                names.append(f"{_part(line.row)} starts at {most}")
            most = min(most, _count(line))
    after = tuple(replace(one, springs=lower[str(one.key)]) if str(one.key) in lower else one for one in lines)
    return after, [f"Springs never rise inside it: {', '.join(names)}."] if names else []


def after_taking_out(lines: Draft, ids: Collection[str], repertoire: Rows) -> Counted:
    """The repetitions of a part that went return to those it shared a total with."""
    follows: list[str] = []
    for pool in _touched(ids, repertoire):
        there = {line.exercise_id for line in lines}
        donors = [row for row in pool.donors if row.id in there]
        if pool.recipient.id in there:
            # A donor went: nothing is shared any more, and what is left counts as the repertoire says.
            lines = _set(lines, dict.fromkeys([pool.recipient.id, *(row.id for row in donors)], None))
        elif len(donors) == len(pool.donors):
            back: dict[str, int | None] = dict(pool.shares(0))
            lines = _set(lines, back)
            told = ", ".join(f"{_part(row)} {back[row.id]}" for row in donors)
            follows.append(f"Its repetitions went back: {told}.")
        else:
            lines = _set(lines, dict.fromkeys((row.id for row in donors), None))
    return Counted(lines, tuple(follows))


def _touched(ids: Collection[str], repertoire: Rows) -> list[Pool]:
    return [
        pool
        for pool in pools(repertoire).values()
        if pool.recipient.id in ids or any(row.id in ids for row in pool.donors)
    ]


def _is_whole(lines: Draft, pool: Pool) -> bool:
    there = {line.exercise_id for line in lines}
    return pool.recipient.id in there and all(row.id in there for row in pool.donors)


def _pool_of(lines: Draft, exercise_id: str, repertoire: Rows) -> Pool | None:
    found = _touched([exercise_id], repertoire)
    return found[0] if found and _is_whole(lines, found[0]) else None


def _set(lines: Draft, counts: Mapping[str, int | None], *, only: int | None = None) -> Draft:
    return tuple(
        replace(line, reps=counts[line.exercise_id])
        if line.exercise_id in counts and only in (None, line.key)
        else line
        for line in lines
    )


def with_springs(lines: Draft, key: int, springs: int | None, repertoire: Rows) -> Counted:
    """A reference count; None is the usual. Later parts of the same exercise come down with it.

    Raises Refused where the row has no springs, outside its range, above the part before, or when a later part cannot
    come down so far.
    """
    place = at(lines, key)
    row = repertoire[lines[place].exercise_id]
    _in_range(row, springs)
    changed = (*lines[:place], replace(lines[place], springs=springs), *lines[place + 1 :])
    run = _run_of(as_lines(changed, repertoire), str(key))
    here = next(n for n, line in enumerate(run) if line.planned_id == str(key))
    most = _count(run[here - 1]) if here else None
    if most is not None and _count(run[here]) > most:
        says = f"Springs never rise inside {row.exercise}: the part before has {most}."
        raise Refused(Reason("rising_springs", says, "springs", f"at most {most} here"))
    return _followed(changed, run, here)


def _followed(lines: Draft, run: Sequence[Line], here: int) -> Counted:
    down: dict[str, int] = {}
    most = _count(run[here])
    for line in run[here + 1 :]:
        if _count(line) > most:
            down[line.planned_id] = most
            if most < (line.row.springs_min or 0):
                says = f"{short_name(line.row)} comes after it and needs at least {line.row.springs_min}."
                raise Refused(Reason("rising_springs", says, "springs", "Take that part out of the series first."))
        most = min(most, _count(line))
    if not down:
        return Counted(lines)
    after = tuple(replace(one, springs=down[str(one.key)]) if str(one.key) in down else one for one in lines)
    names = ", ".join(_part(line.row) for line in run if line.planned_id in down)
    return Counted(after, (f"Came down with it: {names}.",))


def _in_range(row: ExerciseRow, springs: int | None) -> None:
    if row.springs_usual is None:
        says = f"{short_name(row)} has no springs."
        raise Refused(Reason("no_springs", says, "springs", "Only rows with springs carry a count."))
    low, high = row.springs_min or 0, row.springs_max or row.springs_usual
    if springs is not None and not low <= springs <= high:
        says = f"{short_name(row)} is done on {low} to {high} springs."
        raise Refused(Reason("springs_range", says, "springs", f"{low} to {high}"))


def _run_of(lines: Sequence[Line], planned_id: str) -> list[Line]:
    return next(run for run in whole_exercises(lines) if any(line.planned_id == planned_id for line in run))


def _count(line: Line) -> int:
    return line.springs or 0


def with_form(lines: Draft, key: int, *, adapted: bool, repertoire: Rows) -> Draft:
    """In the usual easier form, or as written. Raises Refused where the row knows no easier form."""
    place = at(lines, key)
    row = repertoire[lines[place].exercise_id]
    if adapted and not row.usual_regression:
        says = f"{short_name(row)} has no easier form in the repertoire."
        raise Refused(Reason("no_easier_form", says, "deed", "Choose another exercise."))
    return (*lines[:place], replace(lines[place], adapted=adapted), *lines[place + 1 :])


def setup_choices(repertoire: Rows, row: ExerciseRow) -> dict[str, tuple[str, ...]]:
    """For each key of a row's set-up the words its apparatus knows for it; keys with only one word are left out."""
    found: dict[str, set[str]] = {key: {value} for key, value in row.setup.items()}
    for other in repertoire.values():
        if other.apparatus is row.apparatus:
            for key in found.keys() & other.setup.keys():
                found[key].add(other.setup[key])
    return {key: tuple(sorted(values)) for key, values in found.items() if len(values) > 1}


def with_words(
    lines: Draft, key: int, *, setup: Mapping[str, str], extra: int, reason: str, note: str, repertoire: Rows
) -> Draft:
    """Set-up, an extra on one side with its reason, a note. What equals the row's own is not kept.

    Raises Refused for a word the apparatus does not know, and an extra where there are no sides or above 3.
    """
    place = at(lines, key)
    row = repertoire[lines[place].exercise_id]
    known = setup_choices(repertoire, row)
    for name, value in setup.items():
        if value not in known.get(name, (row.setup.get(name),)):
            says = f"{name.replace('_', ' ').capitalize()} has no such setting."
            raise Refused(Reason("setup", says, "setup", ", ".join(known.get(name, ()))))
    if extra and row.side_factor == 1:
        says = f"{short_name(row)} has no sides."
        raise Refused(Reason("no_sides", says, "extra", "0"))
    if not 0 <= extra <= MOST_EXTRA:
        raise Refused(Reason("extra", "That is too many more on one side.", "extra", f"0 to {MOST_EXTRA}"))
    own = {name: value for name, value in setup.items() if row.setup.get(name) != value}
    changed = replace(lines[place], setup=own, extra_one_side=extra, reason=reason, note=note)
    return (*lines[:place], changed, *lines[place + 1 :])
