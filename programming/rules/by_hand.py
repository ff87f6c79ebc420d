"""One line of a program changed by a teacher's hand: what may be chosen, and the program made whole again around it.

What is chosen keeps every hard rule of fitting: no demand to avoid, level, apparatus and springs of the lesson, what is
asked for first, the state of the machine. Only the order of the soft goals is the teacher's own.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from programming.rules import bodies, validation
from programming.rules.fitting import FittedLine, LimitFact
from programming.rules.fitting.candidates import Candidate, Given, Options, open_groups, shared_reps
from programming.rules.fitting.forms import Form, every_form
from programming.rules.fitting.pooled import Variant
from programming.rules.fitting.whys import whys_of, words_of
from programming.rules.lines import Line, PlannedLine, whole_exercises
from programming.rules.marks import Decision
from programming.rules.repertoire import ExerciseRow, StepKind
from programming.rules.springs import SpringSet, fitting_sets, own_springs, translate
from programming.rules.substitution import Nearness, lost_purposes, nearness
from programming.rules.timing import line_seconds
from programming.rules.validation.templates import unsafe_states
from studio.rules import ApparatusKind

OUT = "out"
PLAIN, USUAL = "plain", "usual"
MOST_REPS = 60


@dataclass(frozen=True)
class Chosen:
    """What is done for one planned line; `line` and `form` are None when it is left out.

    `reps` is a count chosen by hand; None leaves it to the plan and the pool.
    """

    planned: Line
    line: Line | None = None
    form: Form | None = None
    reps: int | None = None

    @property
    def key(self) -> str:
        """What a form posts back: the exercise and its form, or `out`."""
        return OUT if self.line is None or self.form is None else f"{self.line.row.id}~{form_key(self.form)}"

    @property
    def decision(self) -> Decision:
        if self.line is None or self.form is None:
            return Decision.LEFT_OUT
        if self.line.row.id != self.planned.row.id:
            return Decision.SWAPPED
        form, plan = self.form, self.planned.plan
        is_planned = form.is_usual == plan.adapted and not form.step and not form.to_adapt
        return Decision.AS_PLANNED if is_planned else Decision.ADAPTED

    @property
    def lost(self) -> tuple[str, ...]:
        """Aims of the planned line that this does not serve."""
        return lost_purposes(self.planned.row, self.line.row if self.line else None)


@dataclass(frozen=True)
class Facts:
    """What a line is chosen for: everything fitting knows (`given`), the limits with their reasons, the body notes."""

    given: Given
    limits: Mapping[str, LimitFact]
    notes: Collection[str]


def form_key(form: Form) -> str:
    return form.step or (USUAL if form.is_usual else PLAIN)


def as_it_stands(
    planned: Line, exercise: ExerciseRow | None, *, demands: Collection[str], steps: Collection[str], reps: int | None,
    facts: Facts,
) -> Chosen:  # fmt: skip
    """A stored line as a choice again: its form is known by its ladder step, else by its demands.

    `reps` is a count that was chosen by hand, None for the plan's or the pool's.
    """
    if exercise is None:
        return Chosen(planned)
    forms = every_form(exercise, facts.given.steps(exercise), facts.given.limits)
    by_step = next((form for form in forms if form.step and form.step in steps), None)
    form = by_step or next((form for form in forms if form.demands == frozenset(demands)), None)
    plan = planned.plan if exercise.id == planned.row.id else PlannedLine(planned.planned_id, exercise.id)
    line = Line(plan, exercise)
    return Chosen(planned, line, form or Form(frozenset(demands)), reps)


def choices(planned: Line, program: Sequence[Chosen], facts: Facts) -> tuple[Chosen, ...]:
    """What may be done for a planned line: its own forms, then what may stand in, nearest first, then leaving it out.

    `program` is the whole program as it stands; what is done elsewhere in it stands in for nothing.
    """
    at = next(place for place, one in enumerate(program) if one.planned.planned_id == planned.planned_id)
    before = {one.line.row.id for one in program[:at] if one.line}
    elsewhere = {one.line.row.id for place, one in enumerate(program) if one.line and place != at}
    own = _in_forms(planned, planned.row, before, facts)
    found: list[tuple[Nearness, int, str, Chosen]] = []
    for row in facts.given.repertoire.values():
        near = nearness(planned.row, row) if row.id != planned.row.id and row.id not in elsewhere else None
        if near is not None and not _breaks_a_pool(row, program):
            found += [
                (near, abs(row.level - planned.row.level), row.id, one)
                for one in _in_forms(planned, row, before, facts)[:1]
            ]
    return (*own, *(one for *_, one in sorted(found, key=lambda item: item[:3])), Chosen(planned))


def refusal(one: Chosen, before: Collection[str], facts: Facts) -> str:
    """Why a line may not be done as chosen, in words; empty when it may. `before` is done earlier in the program."""
    if one.line is None or one.form is None:
        return ""
    row, given = one.line.row, facts.given
    if row.id not in given.repertoire:
        return "it is not practised here any more"
    if not given.limits.allows(one.form.demands):
        return "it asks for what is to be avoided now"
    if row.apparatus not in given.here:
        return f"it needs a {row.apparatus.value}, which this lesson does not have"
    ceiling = given.ceilings.get(row.apparatus, row.level)
    if row.level > ceiling:
        return f"it is level {row.level}, and {ceiling} is the highest on the {row.apparatus.value}"
    if not _has_springs(one.line, given):
        return "no springs of this machine come near enough"
    if unsafe_states(one.line, one.form.demands):
        return "the machine is not set up safely for it"
    return "it asks for something to be learned first" if _lacks(row, before, facts) else ""


def composed(program: Sequence[Chosen], facts: Facts) -> tuple[FittedLine, ...]:
    """The chosen lines made a program: shared repetitions settled, springs translated, times and reasons."""
    counted = _with_pools(program, facts.given)
    springs = _springs([one.line for one in counted if one.line], facts.given)
    return tuple(_fitted(one, springs.get(id(one.line)), facts) for one in counted)


def _in_forms(planned: Line, row: ExerciseRow, before: Collection[str], facts: Facts) -> tuple[Chosen, ...]:
    plan = planned.plan if row.id == planned.row.id else PlannedLine(planned.planned_id, row.id)
    forms = every_form(row, facts.given.steps(row), facts.given.limits)
    found = (Chosen(planned, Line(plan, row), form) for form in forms)
    kinds: dict[tuple[frozenset[str], str], Chosen] = {}
    for one in found:
        # The usual regression of a row that takes nothing out is the row itself.
        if one.form and not refusal(one, before, facts):
            kinds.setdefault((one.form.demands, one.form.step), one)
    return tuple(kinds.values())


def _lacks(row: ExerciseRow, before: Collection[str], facts: Facts) -> bool:
    levels = {demand: fact.level for demand, fact in facts.limits.items()}
    return any(
        not set(group) & set(before) and not validation.is_deadlocked(group, facts.given.repertoire, levels)
        for group in open_groups(row, facts.given)
    )


def _has_springs(line: Line, given: Given) -> bool:
    if line.row.apparatus is not ApparatusKind.REFORMER or given.inventory is None:
        return True
    return bool(fitting_sets(line.springs or 0, given.inventory, weights=given.weights))


def _breaks_a_pool(row: ExerciseRow, program: Sequence[Chosen]) -> bool:
    return bool(row.rep_pool) and any(one.planned.row.rep_pool == row.rep_pool for one in program)


def _with_pools(program: Sequence[Chosen], given: Given) -> list[Chosen]:
    """Shared totals settled; a count chosen by hand stays as it is."""
    done = {one.line.row.id for one in program if one.line}
    reps: dict[str, int] = {}
    for shared in shared_reps([one.planned for one in program], given.repertoire):
        if all(row.id in done for row in shared.pool.donors):
            reps |= (shared.whole or {}) if shared.pool.recipient.id in done else shared.given_back
    return [_counted(one, reps) for one in program]


def _counted(one: Chosen, reps: Mapping[str, int]) -> Chosen:
    if one.line is None:
        return one
    count = one.reps if one.reps is not None else reps.get(one.line.row.id, one.line.plan.reps)
    return replace(one, line=replace(one.line, plan=replace(one.line.plan, reps=count)))


def _springs(lines: Sequence[Line], given: Given) -> dict[int, tuple[SpringSet, int]]:
    """Springs and error of each line: the reformer's translated a whole exercise at a time, others' their own."""
    hooked: dict[int, tuple[SpringSet, int]] = {}
    for run in whole_exercises(lines):
        if run[0].row.apparatus is not ApparatusKind.REFORMER:
            hooked.update({id(line): (own_springs(line.row, line.springs), 0) for line in run if line.springs})
        elif given.inventory is not None and given.inventory.count:
            found = translate([line.springs or 0 for line in run], given.inventory, weights=given.weights)
            for line, springs, error in zip(run, found.sets, found.errors, strict=True):
                hooked[id(line)] = (springs, error)
    return hooked


def _fitted(one: Chosen, springs: tuple[SpringSet, int] | None, facts: Facts) -> FittedLine:
    line, form, given = one.line, one.form, facts.given
    variant = Variant(Candidate(one.decision, line, form), line)
    is_new = line is not None and given.is_new(line.row)
    setups = [
        step
        for step in (given.steps(line.row) if line else ())
        if step.kind is StepKind.SETUP and bodies.chooses(step.when_seen, facts.notes)
    ]
    return FittedLine(
        planned_id=one.planned.planned_id,
        planned_exercise_id=one.planned.row.id,
        exercise_id=line.row.id if line else None,
        decision=one.decision,
        why=whys_of(Options(one.planned), variant, facts.limits),
        form=words_of(form, facts.limits) if form else "",
        lost_purposes=one.lost,
        demands=form.demands if form else frozenset(),
        springs=springs[0] if springs else None,
        spring_error=springs[1] if springs else 0,
        reps=int(line.reps) if line else 0,
        seconds=line_seconds(line, given.times, pace=given.pace, new=is_new) if line else 0.0,
        is_new=is_new,
        steps=(*([form.step] if form and form.step else []), *(step.code for step in setups)),
        setup=tuple(step.change for step in setups),
    )
