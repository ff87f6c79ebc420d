"""What may become of each planned line: forms of its own, exercises that may stand in for it, or nothing."""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from programming.rules.fitting.forms import Demands, Form, is_blocked, offered
from programming.rules.lines import Line, PlannedLine
from programming.rules.marks import Decision
from programming.rules.pools import Pool, pools
from programming.rules.repertoire import ExerciseRow, LadderStep, StepKind
from programming.rules.springs import SpringSet, Weights, fitting_sets
from programming.rules.substitution import Nearness, nearness
from programming.rules.timing import Pace, Times, line_seconds
from studio.rules import ApparatusKind

Groups = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Given:
    """Everything a line is fitted to. `known` None: nothing counts as new; `inventory` None: springs are not asked."""

    repertoire: Mapping[str, ExerciseRow]
    limits: Demands
    ladders: Mapping[str, Sequence[LadderStep]]
    owned: Collection[str]
    known: Collection[str] | None
    waived: Collection[str]
    ceilings: Mapping[ApparatusKind, int]
    inventory: SpringSet | None
    weights: Weights
    here: Collection[ApparatusKind]
    times: Times
    pace: Pace

    def steps(self, row: ExerciseRow) -> Sequence[LadderStep]:
        return self.ladders.get(row.id, ())

    def is_new(self, row: ExerciseRow) -> bool:
        return self.known is not None and row.id not in self.known

    def deciseconds(self, line: Line) -> int:
        """Rounded up, so that the lines together never take longer than their sum says."""
        seconds = line_seconds(line, self.times, pace=self.pace, new=self.is_new(line.row))
        return math.ceil(seconds * 10 - 1e-6)


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing that may be done for a planned line; `line` and `form` are None when it is left out.

    `needs` are groups of exercises of which one each has to be done earlier in the same program. `step` is the ladder
    step that named a stand-in.
    """

    decision: Decision
    line: Line | None = None
    form: Form | None = None
    nearness: int = 0
    needs: Groups = ()
    step: str = ""


LEFT_OUT = Candidate(Decision.LEFT_OUT)


@dataclass(frozen=True, slots=True)
class Options:
    """A planned line with what may become of it. `stand_ins` are sought only when it has no form of its own.

    `missing` are groups of prerequisites that nothing owned or done earlier can meet.
    """

    planned: Line
    own: tuple[Candidate, ...] = ()
    stand_ins: tuple[Candidate, ...] = ()
    missing: Groups = ()

    @property
    def is_out(self) -> bool:
        return not self.own

    @property
    def stays_as_planned(self) -> bool:
        return bool(self.own) and self.own[0].decision is Decision.AS_PLANNED


@dataclass(slots=True)
class Search:
    """The walk from the first line to the last: what may have been done so far, and what was looked up on the way."""

    given: Given
    planned: Sequence[Line]
    may_be_done: set[str] = field(default_factory=set)
    blocked: dict[str, bool] = field(default_factory=dict)
    sprung: dict[int, bool] = field(default_factory=dict)
    free: list[tuple[ExerciseRow, tuple[Form, ...]]] | None = None

    def options(self, line: Line) -> Options:
        needs = self.needs(line.row)
        missing = tuple(group for group in needs if self.may_be_done.isdisjoint(group))
        own = () if missing or not self.is_possible(line) else self._own(line, needs)
        found = Options(line, own, () if own else self._stand_ins(line), missing)
        self.may_be_done.update(one.line.row.id for one in found.own if one.line)
        return found

    def _own(self, line: Line, needs: Groups) -> tuple[Candidate, ...]:
        found = []
        for form in offered(line, self.given.steps(line.row), self.given.limits):
            is_planned = form.is_usual == line.plan.adapted and not form.step and not form.to_adapt
            decision = Decision.AS_PLANNED if is_planned else Decision.ADAPTED
            found.append(Candidate(decision, in_form(line, form), form, needs=needs))
        return tuple(found)

    def is_possible(self, line: Line) -> bool:
        """Whether the level and the springs let it be done, whatever the form."""
        row = line.row
        return row.level <= self.given.ceilings.get(row.apparatus, row.level) and self.has_springs(line)

    def has_springs(self, line: Line) -> bool:
        if line.row.apparatus is not ApparatusKind.REFORMER or self.given.inventory is None:
            return True
        count = line.springs or 0
        if count not in self.sprung:
            sets = fitting_sets(count, self.given.inventory, weights=self.given.weights)
            self.sprung[count] = bool(sets)
        return self.sprung[count]

    def needs(self, row: ExerciseRow) -> Groups:
        """Groups of which one member, or the row itself, has to be done earlier in the program."""
        return tuple((*group, row.id) for group in open_groups(row, self.given) if not self.is_deadlocked(group))

    def is_deadlocked(self, group: Sequence[str]) -> bool:
        """Whether this client may do none of the group: then it locks her out of nothing."""
        return all(item in self.given.repertoire and self._is_blocked(item) for item in group)

    def _is_blocked(self, exercise_id: str) -> bool:
        if exercise_id not in self.blocked:
            row = self.given.repertoire[exercise_id]
            self.blocked[exercise_id] = is_blocked(row, self.given.steps(row), self.given.limits)
        return self.blocked[exercise_id]

    def _stand_ins(self, line: Line) -> tuple[Candidate, ...]:
        named = {
            step.substitutes: step.code
            for step in self.given.steps(line.row)
            if step.kind is StepKind.REGRESSION and step.substitutes
        }
        found: list[Candidate] = []
        for row, forms in self._free():
            near = nearness(line.row, row)
            if row.id in named and row.level <= line.row.level:
                near = Nearness.FAMILY
            if near is None:
                continue
            needs = self.needs(row)
            if not any(self.may_be_done.isdisjoint(group) for group in needs):
                found += [_stand_in(line, row, form, near, needs, named.get(row.id, "")) for form in forms]
        return tuple(found)

    def _free(self) -> list[tuple[ExerciseRow, tuple[Form, ...]]]:
        """Rows that are not planned and may be done here, with their forms; no part of a pool that is planned."""
        if self.free is None:
            taken = {line.row.id for line in self.planned}
            shared = {line.row.rep_pool for line in self.planned if line.row.rep_pool}
            self.free = []
            for row in self.given.repertoire.values():
                line = Line(PlannedLine(row.id, row.id), row)
                if row.id in taken or row.rep_pool in shared or row.apparatus not in self.given.here:
                    continue
                if not self.is_possible(line):
                    continue
                if forms := offered(line, self.given.steps(row), self.given.limits):
                    self.free.append((row, forms))
        return self.free


def _stand_in(line: Line, row: ExerciseRow, form: Form, near: Nearness, needs: Groups, step: str) -> Candidate:
    stands = in_form(Line(PlannedLine(line.planned_id, row.id), row), form)
    return Candidate(Decision.SWAPPED, stands, form, int(near), needs, step)


def open_groups(row: ExerciseRow, given: Given) -> Groups:
    """Groups of prerequisites of which nothing is owned, none when the row is owned or its prerequisites waived."""
    if row.id in given.owned or row.id in given.waived:
        return ()
    return tuple(group for group in row.prerequisites if not any(item in given.owned for item in group))


def in_form(line: Line, form: Form) -> Line:
    """The line with its plan saying whether it is done in the row's usual regression."""
    if line.plan.adapted == form.is_usual:
        return line
    return replace(line, plan=replace(line.plan, adapted=form.is_usual))


@dataclass(frozen=True, slots=True)
class SharedReps:
    """A pool whose parts are all planned, each once: repetitions by exercise when whole, and when given back.

    A part that is not named keeps its own count. `whole` is None when the recipient's count leaves no donor its
    minimum.
    """

    pool: Pool
    whole: Mapping[str, int] | None
    given_back: Mapping[str, int]


def shared_reps(planned: Sequence[Line], repertoire: Mapping[str, ExerciseRow]) -> list[SharedReps]:
    """The pools of a plan. A pool with a part that is planned twice shares nothing."""
    if not any(line.row.rep_pool for line in planned):
        return []
    by_id: dict[str, list[Line]] = {}
    for line in planned:
        by_id.setdefault(line.row.id, []).append(line)
    found = []
    for pool in pools(repertoire).values():
        parts = (*pool.donors, pool.recipient)
        if all(len(by_id.get(row.id, ())) == 1 for row in parts):
            found.append(SharedReps(pool, _whole(pool, {row.id: by_id[row.id][0] for row in parts}), pool.shares(0)))
    return found


def _whole(pool: Pool, by_id: Mapping[str, Line]) -> dict[str, int] | None:
    """Nothing where the plan numbers the donors; else the recipient's count is lowered until the pool holds."""
    if any(by_id[row.id].plan.reps is not None for row in pool.donors):
        return {}
    wanted = by_id[pool.recipient.id].plan.reps
    count = pool.usual_recipient if wanted is None else wanted
    for reps in range(count, 0, -1):
        if pool.holds(pool.shares(reps), reps):
            return {**pool.shares(reps), pool.recipient.id: reps}
    return None


def options(planned: Sequence[Line], given: Given) -> tuple[list[Options], list[SharedReps], Search]:
    """What may become of each line, in order, the pools they share, and what was looked up."""
    shared = shared_reps(planned, given.repertoire)
    stuck = {one.pool.recipient.id for one in shared if one.whole is None}
    search = Search(given, planned)
    return [Options(line) if line.row.id in stuck else search.options(line) for line in planned], shared, search
