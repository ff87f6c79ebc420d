"""The forms in which one exercise may be done: as written, in its usual regression, or down one step of its ladder."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from clients.rules.outcomes import Level
from programming.rules.lines import Line
from programming.rules.repertoire import EXTENSION, FLEXION, ExerciseRow, LadderStep, StepKind
from programming.rules.validation.templates import unsafe_states


@dataclass(frozen=True, slots=True)
class Form:
    """One form: its demands, how many of them are left to adapt, its words, and the code of its ladder step if any."""

    demands: frozenset[str]
    to_adapt: int = 0
    words: str = ""
    step: str = ""
    is_usual: bool = False

    @property
    def is_flexion(self) -> bool:
        return not self.demands.isdisjoint(FLEXION)

    @property
    def is_extension(self) -> bool:
        return not self.demands.isdisjoint(EXTENSION)


@dataclass(frozen=True, slots=True)
class Demands:
    """A client's demands to avoid and to adapt."""

    avoided: frozenset[str]
    adapted: frozenset[str]

    @classmethod
    def of(cls, levels: Mapping[str, Level]) -> "Demands":
        return cls(
            frozenset(demand for demand, level in levels.items() if level is Level.AVOID),
            frozenset(demand for demand, level in levels.items() if level is Level.ADAPT),
        )

    def allows(self, demands: frozenset[str]) -> bool:
        return self.avoided.isdisjoint(demands)


def every_form(row: ExerciseRow, steps: Sequence[LadderStep], limits: Demands) -> list[Form]:
    """Plain, usual regression, then each regression of the ladder that is no substitution and takes something out.

    A demand is taken out only when it is removable in the row, whatever the ladder says.
    """
    found = [_form(row.demands, limits), _form(row.regressed_demands, limits, row.usual_regression, usual=True)]
    for step in steps:
        taken = step.removes & row.removable
        if step.kind is StepKind.REGRESSION and not step.substitutes and taken:
            found.append(_form((row.demands - taken) | step.adds, limits, step.change, step.code))
    return found


def _form(demands: frozenset[str], limits: Demands, words: str = "", step: str = "", *, usual: bool = False) -> Form:
    return Form(demands, len(demands & limits.adapted), words, step, usual)


def is_blocked(row: ExerciseRow, steps: Sequence[LadderStep], limits: Demands) -> bool:
    """Whether no form of the row is without a demand to avoid."""
    if limits.allows(row.demands):
        return False
    return not any(limits.allows(form.demands) for form in every_form(row, steps, limits))


def offered(line: Line, steps: Sequence[LadderStep], limits: Demands) -> tuple[Form, ...]:
    """The forms the line may be done in, the planned one alone where it may stay; empty when the row is blocked.

    An easier form is offered only for what it takes out: among the forms without a demand to avoid those with the
    fewest left to adapt, and of forms that count alike for opposition the one nearest to the planned.
    """
    planned = _form(
        line.demands, limits, line.row.usual_regression if line.plan.adapted else "", usual=line.plan.adapted
    )
    planned_fits = limits.allows(planned.demands) and _is_safe(line, planned)
    if planned_fits and not planned.to_adapt:
        return (planned,)
    fit = [form for form in every_form(line.row, steps, limits) if limits.allows(form.demands) and _is_safe(line, form)]
    least = min((form.to_adapt for form in fit), default=0)
    if planned_fits and planned.to_adapt == least:
        return (planned,)
    fit = [form for form in fit if form.to_adapt == least]
    fit.sort(key=lambda form: (len(form.demands ^ planned.demands), form.is_usual))
    return _one_of_a_kind(fit)


def _one_of_a_kind(forms: Iterable[Form]) -> tuple[Form, ...]:
    kinds: dict[tuple[bool, bool], Form] = {}
    for form in forms:
        kinds.setdefault((form.is_flexion, form.is_extension), form)
    return tuple(kinds.values())


def _is_safe(line: Line, form: Form) -> bool:
    """V7 in this form."""
    return not unsafe_states(line, form.demands)
