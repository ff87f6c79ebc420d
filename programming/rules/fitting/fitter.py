"""Fitting planned lines to a body, a machine and a slot: kept, adapted, swapped or left out, each with its reasons."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from clients.rules.outcomes import Level, RowStatus, row_status
from programming.rules.fitting.result import LEVEL_ORDER, FittedLine, FittedProgram, LimitFact, Rule, Why
from programming.rules.lines import Line, PlannedLine, resolved, whole_exercises
from programming.rules.marks import Decision
from programming.rules.pools import whole_pools
from programming.rules.repertoire import ExerciseRow, LadderStep
from programming.rules.springs import DEFAULT_WEIGHTS, SpringSet, Weights, error_words, own_springs, translate
from programming.rules.substitution import Circumstances, lost_purposes, status_of, substitutes
from programming.rules.timing import Fit, Pace, Slot, Times, changes, line_seconds
from studio.rules import ApparatusKind

NO_LADDERS: Mapping[str, Sequence[LadderStep]] = MappingProxyType({})


@dataclass(frozen=True)
class _Choice:
    """What is done for one planned line; `line` is None when nothing stands in for it."""

    planned: Line
    line: Line | None
    decision: Decision


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
    """The planned lines fitted to limits, springs and minutes; no fitted line carries an avoided demand.

    `known` are exercises this client has met (None: nothing counts as new). `inventory` are the reformer's springs
    (None: no sets are given). `at_hand` are the lesson's kinds of apparatus; empty means those of the planned lines.
    `ladders` are the steps by exercise id. `body` are the keys of this client's body notes. `waived` are exercises whose prerequisites somebody has set aside (V1), `ceilings` the highest
    level by kind of apparatus (a kind that is not named has none), `weights` the units of the springs' classes.
    Raises KeyError for an exercise the repertoire does not hold.
    """
    planned = resolved(lines, repertoire)
    here = frozenset(at_hand) or frozenset(line.row.apparatus for line in planned)
    choices = _choices(planned, limits, repertoire, owned=owned, here=here)
    choices, pool_warnings = _with_pools(choices, repertoire)
    hooked, spring_warnings = _springs(choices, inventory)
    fitted = tuple(
        _fitted_line(choice, limits, times, pace=pace, known=known, springs=hooked.get(place))
        for place, choice in enumerate(choices)
    )
    seconds = times.arrival + sum(line.seconds for line in fitted) + times.close
    warnings = (*pool_warnings, *spring_warnings, *_apparatus_warnings(choices, here))
    return FittedProgram(
        lines=fitted,
        minutes=seconds / 60,
        warnings=(*warnings, *_time_warnings(seconds, minutes, times)),
        changes=changes([choice.line for choice in choices if choice.line]),
    )


def _choices(
    planned: Sequence[Line],
    limits: Mapping[str, LimitFact],
    repertoire: Mapping[str, ExerciseRow],
    *,
    owned: Collection[str],
    here: frozenset[ApparatusKind],
) -> list[_Choice]:
    """What each line becomes: lines that may stay first, then place-holders for the others in their order."""
    levels = {demand: fact.level for demand, fact in limits.items()}
    staying = {place: _kept(line, levels) for place, line in enumerate(planned)}
    taken = {choice.line.row.id for choice in staying.values() if choice and choice.line}
    pools_used = {line.row.rep_pool for line in planned if line.row.rep_pool}
    have = set(owned)
    out: list[_Choice] = []
    for place, line in enumerate(planned):
        choice = staying[place]
        if choice is None:
            given = Circumstances(levels, here, have, taken, pools_used)
            choice = _swapped(line, repertoire, given)
        if choice.line:
            taken.add(choice.line.row.id)
            have.add(choice.line.row.id)
            pools_used |= {choice.line.row.rep_pool} - {""}
        out.append(choice)
    return out


def _kept(line: Line, levels: Mapping[str, Level]) -> _Choice | None:
    """The line as planned or in its easier form; None when it is blocked."""
    row = line.row
    if line.plan.adapted:
        status = row_status(row.regressed_demands, (), (), levels)
        if status is not RowStatus.BLOCKED:
            return _Choice(line, line, Decision.ADAPTED if status is RowStatus.ADAPT else Decision.AS_PLANNED)
        line = replace(line, plan=replace(line.plan, adapted=False))
    status = status_of(row, levels)
    if status is RowStatus.BLOCKED:
        return None
    performed = _performed(line, levels)
    changed = status is RowStatus.ADAPT
    return _Choice(line, performed, Decision.ADAPTED if changed else Decision.AS_PLANNED)


def _performed(line: Line, levels: Mapping[str, Level]) -> Line:
    """The line in its usual regression when that takes out a demand to avoid or adapt and brings none to avoid."""
    row = line.row
    takes_out = any(levels.get(demand) in (Level.AVOID, Level.ADAPT) for demand in row.removable)
    brings_in = any(levels.get(demand) is Level.AVOID for demand in row.regression_adds)
    return replace(line, plan=replace(line.plan, adapted=takes_out and not brings_in))


def _swapped(line: Line, repertoire: Mapping[str, ExerciseRow], given: Circumstances) -> _Choice:
    found = substitutes(line.row, repertoire, given)
    if not found:
        return _Choice(line, None, Decision.LEFT_OUT)
    stand_in = Line(PlannedLine(line.planned_id, found[0].row.id), found[0].row)
    return _Choice(line, _performed(stand_in, given.levels), Decision.SWAPPED)


def _with_pools(choices: Sequence[_Choice], repertoire: Mapping[str, ExerciseRow]) -> tuple[list[_Choice], list[str]]:
    """The choices with the repetitions of shared totals settled: a recipient that is out gives its share back."""
    fitted = {choice.line.row.id: choice.line for choice in choices if choice.line}
    reps: dict[str, int] = {}
    warnings: list[str] = []
    for pool in whole_pools(repertoire, {choice.planned.row.id for choice in choices}):
        out = [row.name for row in pool.donors if row.id not in fitted]
        if out:
            warnings.append(f"{', '.join(out)}: out, so the total of {pool.total} repetitions is not reached")
            continue
        recipient = fitted.get(pool.recipient.id)
        if recipient is None:
            reps.update(pool.shares(0))
        elif all(fitted[row.id].plan.reps is None for row in pool.donors):
            count = recipient.plan.reps or pool.usual_recipient
            reps.update({**pool.shares(count), pool.recipient.id: count})
    return [_with_reps(choice, reps) for choice in choices], warnings


def _with_reps(choice: _Choice, reps: Mapping[str, int]) -> _Choice:
    if choice.line is None or choice.line.row.id not in reps:
        return choice
    plan = replace(choice.line.plan, reps=reps[choice.line.row.id])
    return replace(choice, line=replace(choice.line, plan=plan))


def _springs(
    choices: Sequence[_Choice], inventory: SpringSet | None
) -> tuple[dict[int, tuple[SpringSet, int]], list[str]]:
    """Springs and error by place: the reformer's translated a whole exercise at a time, others' their own."""
    places = {id(choice.line): place for place, choice in enumerate(choices) if choice.line}
    hooked: dict[int, tuple[SpringSet, int]] = {}
    warnings: list[str] = []
    for run in whole_exercises([choice.line for choice in choices if choice.line]):
        if run[0].row.apparatus is not ApparatusKind.REFORMER:
            hooked.update({places[id(line)]: (own_springs(line.row, line.springs), 0) for line in run if line.springs})
        elif inventory is not None and inventory.count:
            found = translate([line.springs or 0 for line in run], inventory)
            for line, springs, error in zip(run, found.sets, found.errors, strict=True):
                hooked[places[id(line)]] = (springs, error)
            for place in found.impossible:
                words = f"nearest is {found.sets[place].words}, {error_words(found.errors[place])}"
                warnings.append(f"{run[place].row.name}: no fitting springs on this machine; {words}")
            if found.forced:
                warnings.append(f"{run[0].row.exercise}: the step-down cannot be made by unhooking alone")
    return hooked, warnings


def _apparatus_warnings(choices: Sequence[_Choice], here: frozenset[ApparatusKind]) -> list[str]:
    return [
        f"{choice.line.row.name}: needs a {choice.line.row.apparatus.value}, which this lesson does not have"
        for choice in choices
        if choice.line and choice.line.row.apparatus not in here
    ]


def _time_warnings(seconds: float, minutes: float, times: Times) -> list[str]:
    slot = Slot(minutes * 60)
    if slot.check(seconds, times) is Fit.FITS:
        return []
    return [f"{seconds / 60:.0f} minutes for a slot of {minutes:.0f}"]


def _fitted_line(
    choice: _Choice,
    limits: Mapping[str, LimitFact],
    times: Times,
    *,
    pace: Pace,
    known: Collection[str] | None,
    springs: tuple[SpringSet, int] | None,
) -> FittedLine:
    line, planned = choice.line, choice.planned
    moved = choice.decision in (Decision.SWAPPED, Decision.LEFT_OUT)
    is_new = line is not None and known is not None and line.row.id not in known
    why = (_blocking(planned.row, limits) if moved else ()) + (_of_form(line, limits) if line else ())
    return FittedLine(
        planned_id=planned.planned_id,
        planned_exercise_id=planned.row.id,
        exercise_id=line.row.id if line else None,
        decision=choice.decision,
        why=why,
        form=_form(line, limits) if line else "",
        lost_purposes=lost_purposes(planned.row, line.row if line else None),
        demands=line.demands if line else frozenset(),
        springs=springs[0] if springs else None,
        spring_error=springs[1] if springs else 0,
        reps=int(line.reps) if line else 0,
        seconds=line_seconds(line, times, pace=pace, new=is_new) if line else 0.0,
        is_new=is_new,
    )


def _why(row: ExerciseRow, demand: str, rule: Rule, limits: Mapping[str, LimitFact]) -> Why:
    fact = limits[demand]
    return Why(row.id, demand, fact.level, rule, fact.because, fact.source_ids, fact.how)


def _sorted(whys: Sequence[Why]) -> tuple[Why, ...]:
    return tuple(sorted(whys, key=lambda why: (LEVEL_ORDER.index(why.level), why.demand)))


def _blocking(row: ExerciseRow, limits: Mapping[str, LimitFact]) -> tuple[Why, ...]:
    """Why the planned row is out: what cannot be taken out, or what its easier form would bring in."""
    avoided = {demand for demand, fact in limits.items() if fact.level is Level.AVOID}
    stuck = avoided & row.demands - row.removable
    if stuck:
        return _sorted([_why(row, demand, Rule.INTRINSIC, limits) for demand in stuck])
    return _sorted(
        [
            *(_why(row, demand, Rule.TAKEN_OUT, limits) for demand in avoided & row.demands - row.regression_adds),
            *(_why(row, demand, Rule.BROUGHT_IN, limits) for demand in avoided & row.regression_adds),
        ]
    )


def _of_form(line: Line, limits: Mapping[str, LimitFact]) -> tuple[Why, ...]:
    """What the limits say of the row that is done, and of the form it is done in."""
    row, whys = line.row, []
    for demand in (row.demands | line.demands) & limits.keys():
        if demand not in line.demands:
            rule = Rule.TAKEN_OUT
        elif limits[demand].level is Level.WATCH:
            rule = Rule.WATCHED
        else:
            rule = Rule.CHANGED_FORM if demand in row.demands else Rule.BROUGHT_IN
        whys.append(_why(row, demand, rule, limits))
    return _sorted(whys)


def _form(line: Line, limits: Mapping[str, LimitFact]) -> str:
    """The changed form in words: the usual regression, then how each demand left in it is adapted."""
    usual = [line.row.usual_regression] if line.plan.adapted else []
    left = sorted(demand for demand in line.demands if demand in limits and limits[demand].level is Level.ADAPT)
    return "; ".join(dict.fromkeys([*usual, *(limits[demand].how for demand in left if limits[demand].how)]))
