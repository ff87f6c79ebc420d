"""A template fitted to one client, machine and slot: its rows and its sealed part, and what it was fitted for."""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from programming import models
from programming.actions import fits
from programming.actions.facts import FitFacts
from programming.queries import ladders as ladder_queries
from programming.queries import machines as machine_queries
from programming.queries import programs as program_queries
from programming.queries import repertoire as repertoire_queries
from programming.queries.fits import Fit, FittedTo
from programming.rules import by_hand, fitting
from programming.rules.fitting.candidates import Given
from programming.rules.fitting.forms import Demands
from programming.rules.lines import Line, PlannedLine
from programming.rules.springs import DEFAULT_WEIGHTS
from programming.rules.timing import Pace


def fit_program(
    program: models.Program, facts: FitFacts, machine: machine_queries.Machine
) -> tuple[list[models.ProgramLine], Fit]:
    """The lines of an unsaved program and the part to be sealed; what it was fitted for is set on it."""
    program.fitted_for = fitted_for(machine, program.minutes)
    program.today_only = facts.is_of_today
    fitted = fit_template(program.template, facts, machine, minutes=program.minutes, pace=Pace(program.pace))
    return program_lines(program, fitted), fits.fit_of(fitted, digest_of(facts.limits), fitted_to(facts))


def fit_template(
    template: models.Template,
    facts: FitFacts,
    machine: machine_queries.Machine,
    *,
    minutes: int,
    pace: Pace,
) -> fitting.FittedProgram:
    """The template's lines fitted, changing nothing."""
    return fitting.fit(
        planned_lines(template),
        facts.limits,
        repertoire_queries.exercises(),
        times=repertoire_queries.times(),
        owned=facts.known.owned,
        known=facts.known.met,
        inventory=machine.springs,
        minutes=minutes,
        pace=pace,
        at_hand={machine.kind} | machine_queries.kinds_at_hand(machine.studio_id),
        ladders=ladder_queries.steps_by_exercise(),
        body=facts.notes,
        waived=facts.waived,
        ceilings=facts.ceilings,
    )


def planned_lines(template: models.Template) -> list[PlannedLine]:
    """The lines of a template as the rules read them, named by their positions."""
    return [
        PlannedLine(
            planned_id=str(line.position),
            exercise_id=line.exercise_id,
            reps=line.reps,
            springs=line.springs,
            adapted=line.adapted,
            setup=line.setup,
            extra_one_side=line.extra_one_side,
            reason=line.reason,
        )
        for line in template.lines.order_by("position")
    ]


def program_lines(program: models.Program, whole: fitting.FittedProgram) -> list[models.ProgramLine]:
    """Rows of a fitted program, with the versions the repertoire has now; not saved."""
    return rows_of(program, whole.lines)


def rows_of(program: models.Program, lines: Sequence[fitting.FittedLine]) -> list[models.ProgramLine]:
    """The same of lines that are not, or not all, as they were fitted."""
    named = {key for line in lines for key in (line.planned_exercise_id, line.exercise_id) if key}
    versions = repertoire_queries.versions_now(named)
    return [
        models.ProgramLine(
            program=program,
            position=position,
            planned_id=line.planned_exercise_id,
            planned_version=versions[line.planned_exercise_id],
            exercise_id=line.exercise_id,
            exercise_version=versions[line.exercise_id or line.planned_exercise_id],
            decision=line.decision.value,
            spring_set=line.springs.letters if line.springs else "",
            reps=line.reps,
            seconds=round(line.seconds),
        )
        for position, line in enumerate(lines, 1)
    ]


def fitted_for(machine: machine_queries.Machine, minutes: int) -> dict[str, Any]:
    """What a program was fitted for beside the client, to be compared when it is opened."""
    return {"apparatus": machine.id, "springs": machine.letters, "minutes": minutes}


def fitted_to(facts: FitFacts) -> FittedTo:
    """What of the client it was fitted to, to be kept sealed."""
    levels = {demand: fact.level for demand, fact in sorted(facts.limits.items())}
    return FittedTo(levels, facts.notes, facts.waived, facts.ceilings, facts.said)


def digest_of(limits: Mapping[str, fitting.LimitFact]) -> str:
    """The same for the same limits. They are few enough to be guessed from it, so it is kept sealed."""
    levels = sorted((demand, fact.level.value) for demand, fact in limits.items())
    return hashlib.sha256(json.dumps(levels).encode()).hexdigest()


def differs(
    program: models.Program, fit: Fit, facts: FitFacts, machine: machine_queries.Machine, minutes: int
) -> Iterator[str]:
    """What is not any more as it was fitted for, in words."""
    was, today = program.fitted_for, fitted_for(machine, minutes)
    if was.get("apparatus") != today["apparatus"]:
        yield f"It was fitted for {program.apparatus.label}; the lesson is on {machine.label} now."
    elif was.get("springs") != today["springs"]:
        yield f"The springs of {machine.label} have changed since it was fitted."
    if was.get("minutes") != today["minutes"]:
        yield f"It was fitted for {was.get('minutes')} minutes; the lesson has {today['minutes']} now."
    if fit.limits != digest_of(facts.limits):
        yield "The limits have changed since it was fitted."
    if fit.to is not None:
        yield from _client_differs(fit.to, fitted_to(facts))


def _client_differs(was: FittedTo, now: FittedTo) -> Iterator[str]:
    if was.notes != now.notes:
        yield "The notes of the build have changed since it was fitted."
    if was.waived != now.waived:
        yield "What is waived has changed since it was fitted."
    if was.ceilings != now.ceilings:
        yield "The signed levels have changed since it was fitted."


def hand_facts(facts: FitFacts, machine: machine_queries.Machine, pace: Pace) -> by_hand.Facts:
    """What a line may be chosen for by hand: the same that fitting is given."""
    levels = {demand: fact.level for demand, fact in facts.limits.items()}
    given = Given(
        repertoire=repertoire_queries.exercises(),
        limits=Demands.of(levels),
        ladders=ladder_queries.steps_by_exercise(),
        owned=facts.known.owned,
        known=facts.known.met,
        waived=facts.waived,
        ceilings=facts.ceilings,
        inventory=machine.springs,
        weights=DEFAULT_WEIGHTS,
        here={machine.kind} | machine_queries.kinds_at_hand(machine.studio_id),
        times=repertoire_queries.times(),
        pace=pace,
    )
    return by_hand.Facts(given, facts.limits, facts.notes)


def resolved_lines(program: models.Program, facts: by_hand.Facts) -> list[Line]:
    """The planned lines of a program's template with their rows; a retired one reads as when it was fitted."""
    stored = sorted(program.lines.all(), key=lambda line: line.position)
    rows = program_queries.rows_of(stored)
    plans = {plan.planned_id: plan for plan in planned_lines(program.template)}
    found = []
    for line in stored:
        row = rows[line.position].planned
        plan = plans.get(str(line.position), PlannedLine(str(line.position), row.id))
        found.append(Line(plan, facts.given.repertoire.get(row.id, row)))
    return found


def as_chosen(program: models.Program, fit: Fit, facts: by_hand.Facts) -> list[by_hand.Chosen]:
    """The stored lines of a program as choices, in their order; what the repertoire retired is read as it was."""
    stored = sorted(program.lines.all(), key=lambda line: line.position)
    rows = program_queries.rows_of(stored)
    found = []
    for line, planned in zip(stored, resolved_lines(program, facts), strict=True):
        taught, kept = rows[line.position].taught, fit.of(line.position)
        found.append(
            by_hand.as_it_stands(
                planned,
                facts.given.repertoire.get(taught.id, taught) if line.exercise_id else None,
                demands=kept.demands,
                steps=kept.steps,
                reps=line.reps if kept.by_hand else None,
                facts=facts,
            )
        )
    return found
