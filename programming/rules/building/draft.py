"""A draft of a template as its builder reads it: lines with a key that stays theirs, gathered in blocks."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from programming.rules.lines import Line, PlannedLine, resolved
from programming.rules.repertoire import ExerciseRow
from studio.rules import Reason, Refused

MOST_LINES = 90


@dataclass(frozen=True)
class DraftLine:
    """One line. `key` is the row's own, negative until it is kept; lines of one `block` stand and move together.

    The rest as in `PlannedLine`: empty means as the repertoire row says.
    """

    key: int
    exercise_id: str
    block: int = 0
    reps: int | None = None
    springs: int | None = None
    adapted: bool = False
    setup: Mapping[str, str] = field(default_factory=dict, hash=False)
    extra_one_side: int = 0
    reason: str = ""
    note: str = ""

    @property
    def planned(self) -> PlannedLine:
        return PlannedLine(
            planned_id=str(self.key),
            exercise_id=self.exercise_id,
            reps=self.reps,
            springs=self.springs,
            adapted=self.adapted,
            setup=self.setup,
            extra_one_side=self.extra_one_side,
            reason=self.reason,
        )


Draft = tuple[DraftLine, ...]


def tidy(lines: Iterable[DraftLine]) -> Draft:
    """Blocks numbered from 1 in order. A block pulled apart becomes two; a line of block 0 stands alone."""
    out: list[DraftLine] = []
    before: int | None = None
    number = 0
    for line in lines:
        if before is None or line.block != before or not line.block:
            number += 1
        before = line.block
        out.append(replace(line, block=number))
    return tuple(out)


def grouped(lines: Sequence[DraftLine], repertoire: Mapping[str, ExerciseRow]) -> Draft:
    """A template that never had blocks gets them: neighbours of one series stand together."""
    if any(line.block for line in lines):
        return tidy(lines)
    out: list[DraftLine] = []
    before, number = None, 0
    for line in lines:
        series = series_of(line, repertoire)
        number += series != before
        before = series
        out.append(replace(line, block=number))
    return tidy(out)


def series_of(line: DraftLine, repertoire: Mapping[str, ExerciseRow]) -> tuple[str, str]:
    row = repertoire[line.exercise_id]
    return row.apparatus.value, row.series


def blocks(lines: Sequence[DraftLine]) -> list[list[DraftLine]]:
    """Neighbouring lines of one block, kept together."""
    found: list[list[DraftLine]] = []
    for line in lines:
        if found and found[-1][-1].block == line.block:
            found[-1].append(line)
        else:
            found.append([line])
    return found


def as_lines(lines: Sequence[DraftLine], repertoire: Mapping[str, ExerciseRow]) -> tuple[Line, ...]:
    """The draft as every other rule reads it; `planned_id` is the key in words."""
    return resolved([line.planned for line in lines], repertoire)


def at(lines: Sequence[DraftLine], key: int) -> int:
    """The place of a line, from 0. Raises Refused when it is not there any more."""
    for place, line in enumerate(lines):
        if line.key == key:
            return place
    raise Refused(Reason("no_such_line", "That line is no longer in the template.", "deed", "Choose another line."))


def next_key(lines: Sequence[DraftLine]) -> int:
    """A key for a line that is not kept yet."""
    return min((line.key for line in lines), default=0) - 1 if any(line.key < 0 for line in lines) else -1


def short_name(row: ExerciseRow) -> str:
    """The name without what stands in brackets: `Footwork, toes`."""
    part = row.part.partition(" (")[0]
    return f"{row.exercise}, {part}" if part else row.exercise
