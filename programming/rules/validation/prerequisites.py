"""V1: what an exercise asks to be owned first, the deadlock of a blocked prerequisite, and circles of prerequisites.

In each group of prerequisites one member is enough.
"""

from collections.abc import Collection, Mapping, Sequence

from clients.rules.outcomes import Level, RowStatus, row_status
from programming.rules.lines import Line
from programming.rules.repertoire import ExerciseRow
from programming.rules.validation.findings import Finding, Severity


def missing_groups(row: ExerciseRow, have: Collection[str]) -> list[tuple[str, ...]]:
    """Groups of which nothing is owned or met; none when the row itself is owned."""
    return [] if row.id in have else [group for group in row.prerequisites if not set(group) & set(have)]


def prerequisites_owned(
    lines: Sequence[Line],
    repertoire: Mapping[str, ExerciseRow],
    *,
    owned: Collection[str],
    waived: Collection[str] = (),
    levels: Mapping[str, Level] | None = None,
) -> list[Finding]:
    """V1: each group owned, introduced earlier in the same program, or waived for this exercise.

    Where every member of a group is blocked for this client the finding offers the waiver: an exercise she may not do
    never locks her out of one she may.
    """
    found: list[Finding] = []
    have = set(owned)
    for line in lines:
        if line.row.id not in waived:
            for group in missing_groups(line.row, have):
                says = _says(line.row, group, repertoire, levels or {})
                found.append(Finding("V1", Severity.BLOCK, line.planned_id, says, is_waivable=True))
        have.add(line.row.id)
    return found


def is_deadlocked(group: Sequence[str], repertoire: Mapping[str, ExerciseRow], levels: Mapping[str, Level]) -> bool:
    """Whether everything in a group of prerequisites is blocked for a client with these limits."""
    return all(item in repertoire and _is_blocked(repertoire[item], levels) for item in group)


def _is_blocked(row: ExerciseRow, levels: Mapping[str, Level]) -> bool:
    return row_status(row.demands, row.removable, row.regression_adds, levels) is RowStatus.BLOCKED


def _says(
    row: ExerciseRow, group: Sequence[str], repertoire: Mapping[str, ExerciseRow], levels: Mapping[str, Level]
) -> str:
    names = " or ".join(repertoire[item].name if item in repertoire else item for item in group)
    if is_deadlocked(group, repertoire, levels):
        return f"{row.name} asks for {names}, which is blocked here; waive it when a teacher has seen an equivalent"
    return f"{row.name} asks for {names} first"


def locked(repertoire: Mapping[str, ExerciseRow]) -> frozenset[str]:
    """Exercises nobody could ever come to, because they ask for each other in a circle.

    A prerequisite the repertoire does not hold counts as met: unknown ids are a fault of their own.
    """
    open_ids: set[str] = set()
    left = dict(repertoire)
    while left:
        met = {
            row.id
            for row in left.values()
            if all(any(item in open_ids or item not in repertoire for item in group) for group in row.prerequisites)
        }
        if not met:
            break
        open_ids |= met
        left = {key: row for key, row in left.items() if key not in met}
    return frozenset(left)


def cycle(repertoire: Mapping[str, ExerciseRow], start: str | None = None) -> tuple[str, ...]:
    """One circle of prerequisites, its first exercise named again at the end; empty when there is none.

    With `start`, the circle that locks that exercise. A circle that an alternative leads around is none.
    """
    shut = locked(repertoire)
    if not shut or (start is not None and start not in shut):
        return ()
    walked: list[str] = []
    here = min(shut) if start is None else start
    while here not in walked:
        walked.append(here)
        here = next(item for group in repertoire[here].prerequisites if set(group) <= shut for item in sorted(group))
    return (*walked[walked.index(here) :], here)


def template_cycle(lines: Sequence[Line], repertoire: Mapping[str, ExerciseRow]) -> list[Finding]:
    """A line that a circle of prerequisites locks: a fault of the repertoire, said where the line is planned."""
    found: list[Finding] = []
    shut = locked(repertoire)
    for line in lines:
        if line.row.id in shut:
            circle = cycle(repertoire, line.row.id)
            names = " → ".join(repertoire[item].name for item in circle)
            says = f"what {line.row.name} asks for first goes in a circle: {names}"
            found.append(Finding("V1", Severity.BLOCK, line.planned_id, says, is_waivable=True))
    return found
