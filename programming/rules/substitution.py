"""The search for a place-holder when an exercise is out (rules 13 and 14): best first, and what is lost."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from enum import IntEnum

from clients.rules.outcomes import Level, RowStatus, row_status
from programming.rules.repertoire import ExerciseRow
from studio.rules import ApparatusKind

STATUS_ORDER = (RowStatus.CLEAR, RowStatus.WATCH, RowStatus.ADAPT)


class Nearness(IntEnum):
    """How a substitute relates to the planned row, nearest first; one shared purpose is the same aim."""

    FAMILY = 1
    AIM_AND_POSITION = 2
    AIM = 3


@dataclass(frozen=True)
class Substitute:
    row: ExerciseRow
    nearness: Nearness
    status: RowStatus
    lost: tuple[str, ...]


@dataclass(frozen=True)
class Circumstances:
    """What the search has to respect.

    `levels` by demand; `at_hand` the kinds of apparatus of this lesson; `have` the exercises owned or met earlier;
    `taken` the exercises already in the program; `pools_in_use` repetition pools that another part would break.
    """

    levels: Mapping[str, Level] = field(hash=False)
    at_hand: Collection[ApparatusKind] = ()
    have: Collection[str] = ()
    taken: Collection[str] = ()
    pools_in_use: Collection[str] = ()


def status_of(row: ExerciseRow, levels: Mapping[str, Level]) -> RowStatus:
    """What the row is for a client with these levels."""
    return row_status(row.demands, row.removable, row.regression_adds, levels)


def prerequisites_met(row: ExerciseRow, have: Collection[str]) -> bool:
    """Owned itself, or one member of each group of prerequisites owned or met earlier."""
    return row.id in have or all(any(item in have for item in group) for group in row.prerequisites)


def nearness(planned: ExerciseRow, other: ExerciseRow) -> Nearness | None:
    """None when the two have nothing in common, or the other is of a higher level."""
    if other.level > planned.level:
        return None
    if other.family == planned.family:
        return Nearness.FAMILY
    if not set(planned.purpose) & set(other.purpose):
        return None
    same_position = other.start_position == planned.start_position
    return Nearness.AIM_AND_POSITION if same_position else Nearness.AIM


def lost_purposes(planned: ExerciseRow, other: ExerciseRow | None) -> tuple[str, ...]:
    """Aims of the planned row that the other does not serve; all of them when it is left out."""
    kept = other.purpose if other else ()
    return tuple(aim for aim in planned.purpose if aim not in kept)


def substitutes(planned: ExerciseRow, repertoire: Mapping[str, ExerciseRow], given: Circumstances) -> list[Substitute]:
    """Every row that may stand in for the planned one, best first; never one that is blocked or already there.

    Apparatus of the lesson comes first, for a swap nobody can do in the room is the last resort; then the nearness of
    rule 14; then clear before watch before adapt; then rows whose prerequisites are met; then the smallest loss.
    """
    found: list[Substitute] = []
    for row in repertoire.values():
        near = nearness(planned, row)
        if near is None or row.id == planned.id or row.id in given.taken:
            continue
        if row.rep_pool and row.rep_pool in given.pools_in_use:
            continue
        status = status_of(row, given.levels)
        if status is not RowStatus.BLOCKED:
            found.append(Substitute(row, near, status, lost_purposes(planned, row)))
    return sorted(found, key=lambda one: _rank(planned, one, given))


def _rank(planned: ExerciseRow, one: Substitute, given: Circumstances) -> tuple[bool | int | str, ...]:
    row = one.row
    return (
        row.apparatus not in given.at_hand,
        int(one.nearness),
        STATUS_ORDER.index(one.status),
        not prerequisites_met(row, given.have),
        len(one.lost),
        planned.level - row.level,
        row.start_position != planned.start_position,
        row.apparatus is not planned.apparatus,
        abs(row.order_in_apparatus - planned.order_in_apparatus),
        row.id,
    )
