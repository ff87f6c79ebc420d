"""V10: people and room. Facts about the client, the instructor and the others of the lesson, each one optional."""

import itertools
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from programming.rules.absence import Occasion, new_work
from programming.rules.lines import Line
from programming.rules.timing import Pace, Times, line_seconds
from programming.rules.validation.findings import Finding, Severity
from studio.rules import ApparatusKind

# Until a teacher has signed a level: common practice, no source.
UNSIGNED_LEVEL = 2
SUPERVISION_SPARE = 2
BESIDE = 3
MOST_BESIDE = 1


@dataclass(frozen=True)
class Stretch:
    """One row of one person's lesson: seconds from the start (half-open), its supervision, what it takes from the room.

    `items` are the keys of shared things as the studio counts them, such as a box or a tower bar.
    """

    starts: float
    ends: float
    supervision: int
    items: frozenset[str] = frozenset()


@dataclass(frozen=True)
class People:
    """Who takes part, as far as it is known; None leaves a question out.

    `is_screened`: the form and what it asks for are in date on the day. `ceilings` and `teaches` are levels by kind of
    apparatus; a kind that `ceilings` does not name is unsigned, one that `teaches` does not name is not taught.
    `needs` are the client's, `cleared_for` the instructor's. `occasion` bounds new work. `others` are the rows of the
    other people of the lesson, this client's stretches not among them, and `stock` says how many of each item there
    are (one where it is silent).
    """

    is_screened: bool | None = None
    ceilings: Mapping[ApparatusKind, int] | None = field(default=None, hash=False)
    teaches: Mapping[ApparatusKind, int] | None = field(default=None, hash=False)
    needs: frozenset[str] = frozenset()
    cleared_for: frozenset[str] | None = None
    occasion: Occasion | None = None
    own: Sequence[Stretch] = ()
    others: Sequence[Sequence[Stretch]] = ()
    stock: Mapping[str, int] = field(default_factory=dict, hash=False)


def people_and_room(lines: Sequence[Line], people: People, *, met: Collection[str] | None = None) -> list[Finding]:
    """V10. Screening, level and instructor block; the rest warns. `met` are exercises met before (None: not asked)."""
    return [
        *screening_in_date(people.is_screened),
        *(level_within(lines, people.ceilings) if people.ceilings is not None else []),
        *instructor_cleared(lines, people),
        *(new_rows(lines, met, people.occasion) if met is not None and people.occasion else []),
        *(supervision([people.own, *people.others]) if people.others else []),
        *(shared_once([people.own, *people.others], people.stock) if people.others else []),
    ]


def screening_in_date(is_screened: bool | None) -> list[Finding]:
    if is_screened is not False:
        return []
    return [Finding("V10", Severity.BLOCK, None, "the form is not current on the day of the lesson")]


def level_within(lines: Sequence[Line], ceilings: Mapping[ApparatusKind, int]) -> list[Finding]:
    """No row above the level a teacher has signed for this client on its apparatus."""
    found: list[Finding] = []
    for line in lines:
        row, ceiling = line.row, ceilings.get(line.row.apparatus, UNSIGNED_LEVEL)
        if row.level > ceiling:
            says = f"{row.name} is level {row.level}; level {ceiling} is the highest on the {row.apparatus.value}"
            found.append(Finding("V10", Severity.BLOCK, line.planned_id, says))
    return found


def instructor_cleared(lines: Sequence[Line], people: People) -> list[Finding]:
    """The instructor teaches these apparatus to this level, and is cleared for what this client needs."""
    found: list[Finding] = []
    if people.teaches is not None:
        highest: dict[ApparatusKind, int] = {}
        for line in lines:
            highest[line.row.apparatus] = max(line.row.level, highest.get(line.row.apparatus, 0))
        for kind, level in highest.items():
            if level > people.teaches.get(kind, 0):
                says = f"the instructor is not cleared for level {level} on the {kind.value}"
                found.append(Finding("V10", Severity.BLOCK, None, says))
    if people.cleared_for is not None and not people.needs <= people.cleared_for:
        # Never for what: a need is health, and a report may be read over a shoulder.
        found.append(Finding("V10", Severity.BLOCK, None, "the instructor is not cleared for this client"))
    return found


def new_rows(lines: Sequence[Line], met: Collection[str], occasion: Occasion) -> list[Finding]:
    """Rule 8: rows not met before within what the day allows, and in a first lesson nothing above its level."""
    allowed = new_work(occasion)
    new = {line.row.id for line in lines} - set(met)
    found: list[Finding] = []
    if len(new) > allowed.most:
        says = f"new exercises: {len(new)}; {allowed.says}"
        found.append(Finding("V10", Severity.WARN, None, says))
    if allowed.top_level is not None:
        found += [
            Finding("V10", Severity.WARN, line.planned_id, f"level {line.row.level} in a first lesson")
            for line in lines
            if line.row.level > allowed.top_level
        ]
    return found


@dataclass(frozen=True)
class Supervision:
    """The sum of the figures of rows done at one time, and what it may be; `reason` is empty when it passes."""

    total: int
    limit: int
    reason: str

    @property
    def passes(self) -> bool:
        return not self.reason


def supervision_of(figures: Sequence[int]) -> Supervision:
    """For n people doing these rows at once: the sum at most n + 2, and at most one row with the teacher beside."""
    total, limit = sum(figures), len(figures) + SUPERVISION_SPARE
    if figures.count(BESIDE) > MOST_BESIDE:
        return Supervision(total, limit, "two rows need the teacher beside")
    return Supervision(total, limit, "sum over the limit" if total > limit else "")


def moments(people: Sequence[Sequence[Stretch]]) -> list[tuple[float, list[Stretch]]]:
    """Every time at which somebody's row begins, with the rows under way then: nothing changes between two of them."""
    begins = sorted({one.starts for rows in people for one in rows})
    return [(at, [one for rows in people for one in rows if one.starts <= at < one.ends]) for at in begins]


def supervision(people: Sequence[Sequence[Stretch]]) -> list[Finding]:
    """The supervision sum at every minute; one finding for each run of moments that breaks it."""
    found: list[Finding] = []
    judged = [(at, supervision_of([one.supervision for one in rows])) for at, rows in moments(people)]
    for reason, run in itertools.groupby(judged, key=lambda one: one[1].reason):
        if reason:
            at, first = next(run)
            says = f"{reason} in minute {_minute(at)}: {first.total}, where {first.limit} is the most"
            found.append(Finding("V10", Severity.WARN, None, says))
    return found


def shared_once(people: Sequence[Sequence[Stretch]], stock: Mapping[str, int]) -> list[Finding]:
    """Nothing shared used by more people at a time than there are of it; the first moment of each item is told."""
    found: dict[str, Finding] = {}
    for at, rows in moments(people):
        for item, users in Counter(item for one in rows for item in one.items).items():
            have = stock.get(item, 1)
            if users > have and item not in found:
                words = item.replace("_", " ")
                says = f"{words} wanted by {users} in minute {_minute(at)}, and there is {have}"
                found[item] = Finding("V10", Severity.WARN, None, says)
    return list(found.values())


def _minute(seconds: float) -> int:
    return int(seconds // 60) + 1


def stretches(
    lines: Sequence[Line],
    times: Times,
    *,
    pace: Pace,
    items: Mapping[str, Collection[str]] | None = None,
    starts: float | None = None,
) -> tuple[Stretch, ...]:
    """The rows of one person as they follow each other, from `starts` seconds on (None: after arrival).

    `items` are the shared things a row takes, by exercise id.
    """
    at = times.arrival if starts is None else starts
    rows: list[Stretch] = []
    for line in lines:
        ends = at + line_seconds(line, times, pace=pace)
        rows.append(Stretch(at, ends, line.row.supervision, frozenset((items or {}).get(line.row.id, ()))))
        at = ends
    return tuple(rows)
