"""A fit of a case that nobody has: reference ids in, the fitted lines out, nothing read of anybody and nothing kept."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from clients import queries as client_queries
from clients.rules.outcomes import Level
from programming import models
from programming.queries import ladders, machines, repertoire
from programming.rules import bodies, fitting
from programming.rules.lines import PlannedLine
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace
from studio.rules import ApparatusKind, Reason, Refused

# A studio that is not named has everything in the room.
EVERYTHING = frozenset(ApparatusKind)


@dataclass(frozen=True)
class FitCase:
    """What is fitted: a template by its key or lines of its own, limits by demand, and the rest by reference ids.

    `met` None: nothing counts as new. `springs` None: those of `machine_id`, or no springs are asked.
    """

    template_id: UUID | None = None
    lines: Sequence[PlannedLine] = ()
    levels: Mapping[str, Level] = field(default_factory=dict)
    owned: frozenset[str] = frozenset()
    met: frozenset[str] | None = None
    waived: frozenset[str] = frozenset()
    body: frozenset[str] = frozenset()
    ceilings: Mapping[ApparatusKind, int] = field(default_factory=dict)
    machine_id: int | None = None
    springs: SpringSet | None = None
    kinds: frozenset[ApparatusKind] = frozenset()
    minutes: int = 55
    pace: Pace = Pace.WORKING


def fitted_case(case: FitCase) -> fitting.FittedProgram:
    """The case fitted as a client's template is. Raises Refused with the field of each id that is not known here."""
    rows = repertoire.exercises()
    machine = _machine(case.machine_id)
    lines = _lines(case)
    if reasons := _unknown(case, lines, set(rows)):
        raise Refused(reasons)
    at_hand = case.kinds or EVERYTHING
    if machine is not None and not case.kinds:
        at_hand = frozenset({machine.kind}) | machines.kinds_at_hand(machine.studio_id)
    return fitting.fit(
        lines,
        {demand: fitting.LimitFact(level) for demand, level in case.levels.items()},
        rows,
        times=repertoire.times(),
        owned=case.owned,
        known=case.met,
        inventory=case.springs if case.springs is not None else machine.springs if machine else None,
        minutes=case.minutes,
        pace=case.pace,
        at_hand=at_hand,
        ladders=ladders.steps_by_exercise(),
        body=case.body,
        waived=case.waived,
        ceilings=case.ceilings or None,
    )


def _machine(machine_id: int | None) -> machines.Machine | None:
    return machines.machine(machine_id) if machine_id is not None else None


def _lines(case: FitCase) -> Sequence[PlannedLine]:
    if case.template_id is None:
        return case.lines
    template = models.Template.objects.get(pk=case.template_id)
    return [
        PlannedLine(
            str(line.position), line.exercise_id, line.reps, line.springs, line.adapted, line.setup,
            line.extra_one_side, line.reason,
        )
        for line in template.lines.order_by("position")
    ]  # fmt: skip


def _unknown(case: FitCase, lines: Sequence[PlannedLine], known: set[str]) -> list[Reason]:
    demands = set(client_queries.rules_in_force().rulebook.demands)
    asked = {
        "lines": ({line.exercise_id for line in lines} - known, "exercise"),
        "limits": (case.levels.keys() - demands, "demand"),
        "owned": (case.owned - known, "exercise"),
        "met": ((case.met or frozenset()) - known, "exercise"),
        "waived": (case.waived - known, "exercise"),
        "body": (case.body - bodies.BY_KEY.keys(), "body note"),
    }
    return [
        Reason("unknown", f"There is no {what} {', '.join(sorted(found))} here.", name)
        for name, (found, what) in asked.items()
        if found
    ]
