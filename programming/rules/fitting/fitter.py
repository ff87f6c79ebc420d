"""From a plan and a client to a fitted program: options, the cheapest way through them, springs, and the reasons."""

from collections.abc import Collection, Mapping, Sequence
from itertools import accumulate
from types import MappingProxyType

from programming.rules import bodies
from programming.rules.fitting.candidates import Given, Options, options
from programming.rules.fitting.candidates import Search as Looked
from programming.rules.fitting.costs import cost_of, least_cost, lost_aims
from programming.rules.fitting.forms import Demands
from programming.rules.fitting.pooled import Variant
from programming.rules.fitting.result import FittedLine, FittedProgram, LimitFact
from programming.rules.fitting.solve import Solution, solve
from programming.rules.fitting.whys import blocks_most, notes_of, whys_of, words_of
from programming.rules.lines import Line, PlannedLine, resolved, whole_exercises
from programming.rules.pools import whole_pools
from programming.rules.repertoire import ExerciseRow, LadderStep, StepKind
from programming.rules.springs import DEFAULT_WEIGHTS, SpringSet, Weights, own_springs, translate
from programming.rules.substitution import lost_purposes
from programming.rules.timing import Pace, Times, changes, line_seconds
from studio.rules import ApparatusKind

NO_LADDERS: Mapping[str, Sequence[LadderStep]] = MappingProxyType({})


def fit(
    lines: Sequence[PlannedLine],
    limits: Mapping[str, LimitFact],
    repertoire: Mapping[str, ExerciseRow],
    *,
    times: Times,
    owned: Collection[str] = (),
    known: Collection[str] | None = None,
    inventory: SpringSet | None = None,
    minutes: float = 55,
    pace: Pace = Pace.WORKING,
    at_hand: Collection[ApparatusKind] = (),
    ladders: Mapping[str, Sequence[LadderStep]] = NO_LADDERS,
    body: Collection[str] = (),
    waived: Collection[str] = (),
    ceilings: Mapping[ApparatusKind, int] | None = None,
    weights: Weights = DEFAULT_WEIGHTS,
) -> FittedProgram:
    """The planned lines fitted as the package says; the same arguments always give the same program.

    `known` are exercises this client has met (None: nothing counts as new). `inventory` are the reformer's springs
    (None: springs are not asked). `at_hand` are the lesson's kinds of apparatus; empty means those of the planned
    lines. `ladders` are the steps by exercise id, `body` the keys of the client's body notes, `waived` the exercises
    whose prerequisites somebody has set aside (V1), `ceilings` the highest level by kind of apparatus (a kind that is
    not named has none), `weights` the units of the classes of springs. Raises KeyError for an exercise the repertoire
    does not hold.
    """
    planned = resolved(lines, repertoire)
    levels = {demand: fact.level for demand, fact in limits.items()}
    given = Given(
        repertoire=repertoire,
        limits=Demands.of(levels),
        ladders=ladders,
        owned=frozenset(owned),
        known=None if known is None else frozenset(known),
        waived=frozenset(waived),
        ceilings=ceilings or {},
        inventory=inventory,
        weights=weights,
        here=frozenset(at_hand) or frozenset(line.row.apparatus for line in planned),
        times=times,
        pace=pace,
    )
    found, shared, looked = options(planned, given)
    room = _room(minutes, times)
    solution = solve(found, shared, given, room)
    return _Fitted(limits, looked, found, solution, room, minutes, frozenset(body)).program()


def _room(minutes: float, times: Times) -> int:
    """Deciseconds for the lines themselves."""
    whole = int(minutes * 600 * times.warn_share + 1e-6)
    return max(0, whole - round((times.arrival + times.close) * 10))


class _Fitted:
    """A solved plan on its way to a program."""

    def __init__(
        self,
        limits: Mapping[str, LimitFact],
        looked: Looked,
        found: Sequence[Options],
        solution: Solution,
        room: int,
        minutes: float,
        body: frozenset[str],
    ) -> None:
        self.limits, self.looked, self.found, self.solution = limits, looked, found, solution
        self.room, self.minutes, self.body, self.given = room, minutes, body, looked.given
        self.lines = [one.line for one in solution.done if one.line]
        self.left = room - sum(self.given.deciseconds(line) for line in self.lines)

    def program(self) -> FittedProgram:
        given, done = self.given, self.solution.done
        springs, forced = _springs(self.lines, given)
        before = accumulate(({one.line.row.id} if one.line else set() for one in done), set.union, initial=set[str]())
        lines = tuple(
            self._line(option, one, springs.get(id(one.line)), earlier)
            for option, one, earlier in zip(self.found, done, before, strict=False)
        )
        seconds = given.times.arrival + sum(line.seconds for line in lines) + given.times.close
        none_left = bool(lines) and not self.lines
        cost, is_proven = cost_of(self.found, done, self.left), self.solution.is_proven
        return FittedProgram(
            lines=lines,
            minutes=seconds / 60,
            warnings=(*self._pool_warnings(), *forced, *self._room_warnings(), *self._time_warnings(seconds)),
            lost_aims=lost_aims(self.found, done),
            is_proven=is_proven,
            cost=cost,
            bound=least_cost(self.found, self.solution, cost, self.room),
            blocks_most=blocks_most(self.found, given.limits.avoided) if none_left else (),
            changes=changes(self.lines),
        )

    def _line(
        self, option: Options, one: Variant, springs: tuple[SpringSet, int] | None, before: Collection[str]
    ) -> FittedLine:
        line, form, given = one.line, one.candidate.form, self.given
        is_new = line is not None and given.is_new(line.row)
        setups = _setups(line, given, self.body) if line else ()
        steps = [code for code in (one.candidate.step, form.step if form else "") if code]
        has_room = given.deciseconds(option.planned) <= self.left
        return FittedLine(
            planned_id=option.planned.planned_id,
            planned_exercise_id=option.planned.row.id,
            exercise_id=line.row.id if line else None,
            decision=one.candidate.decision,
            why=whys_of(option, one, self.limits),
            form=words_of(form, self.limits) if form else "",
            lost_purposes=lost_purposes(option.planned.row, line.row if line else None),
            demands=form.demands if form else frozenset(),
            springs=springs[0] if springs else None,
            spring_error=springs[1] if springs else 0,
            reps=int(line.reps) if line else 0,
            seconds=line_seconds(line, given.times, pace=given.pace, new=is_new) if line else 0.0,
            is_new=is_new,
            steps=(*steps, *(step.code for step in setups)),
            setup=tuple(step.change for step in setups),
            notes=notes_of(option, one, self.looked, before=before, has_room=has_room),
        )

    def _pool_warnings(self) -> list[str]:
        done = {line.row.id for line in self.lines}
        return [
            f"{', '.join(out)}: out, so the total of {pool.total} repetitions is not reached"
            for pool in whole_pools(self.given.repertoire, {one.planned.row.id for one in self.found})
            if (out := [row.name for row in pool.donors if row.id not in done])
        ]

    def _room_warnings(self) -> list[str]:
        return [
            f"{line.row.name}: needs a {line.row.apparatus.value}, which this lesson does not have"
            for line in self.lines
            if line.row.apparatus not in self.given.here
        ]

    def _time_warnings(self, seconds: float) -> list[str]:
        if seconds <= self.minutes * 60:
            return []
        return [f"{seconds / 60:.0f} minutes for a slot of {self.minutes:.0f}"]


def _setups(line: Line, given: Given, body: Collection[str]) -> list[LadderStep]:
    """The set-ups of the line's ladder that go for this body."""
    return [
        step for step in given.steps(line.row) if step.kind is StepKind.SETUP and bodies.chooses(step.when_seen, body)
    ]


def _springs(lines: Sequence[Line], given: Given) -> tuple[dict[int, tuple[SpringSet, int]], list[str]]:
    """Springs and error of each line: the reformer's translated a whole exercise at a time, others' their own."""
    hooked: dict[int, tuple[SpringSet, int]] = {}
    warnings: list[str] = []
    for run in whole_exercises(lines):
        if run[0].row.apparatus is not ApparatusKind.REFORMER:
            hooked.update({id(line): (own_springs(line.row, line.springs), 0) for line in run if line.springs})
        elif given.inventory is not None:
            found = translate([line.springs or 0 for line in run], given.inventory, weights=given.weights)
            for line, springs, error in zip(run, found.sets, found.errors, strict=True):
                hooked[id(line)] = (springs, error)
            if found.forced:
                warnings.append(f"{run[0].row.exercise}: the step-down cannot be made by unhooking alone")
    return hooked, warnings
