"""Assigning a template to a client: fitted to her limits, this machine and this slot, every change with its reasons."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from clients.actions import care as care_actions
from clients.actions import health as health_actions
from clients.models import Client
from clients.queries import days
from clients.rules.limits import LimitFound, levels_of
from programming import models
from programming.queries import clients as client_queries
from programming.queries import machines as machine_queries
from programming.queries import repertoire as repertoire_queries
from programming.rules import fitting
from programming.rules.lines import PlannedLine
from programming.rules.timing import Pace
from scheduling.models import Place
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused


def assign_program(
    *,
    client_id: UUID,
    template_id: UUID,
    apparatus_id: int,
    minutes: int,
    by: Person,
    now: datetime,
    place_id: UUID | None = None,
    pace: Pace = Pace.WORKING,
) -> models.Program:
    """Fit the template for this client, machine and slot, and keep it as the program of the place.

    An earlier program of the same place is replaced, never changed. Raises Refused when the template is not in use,
    the place is not this client's, its log has begun, or the reader may not see this client's limits.
    """
    with transaction.atomic():
        client = Client.objects.select_for_update().get(pk=client_id)
        template = models.Template.objects.get(pk=template_id)
        _check(template, client, place_id, minutes, now)
        limits = health_actions.read_limits(client_id, by=by, now=now, why="assigning a program")
        facts = limit_facts(limits)
        machine = machine_queries.machine(apparatus_id)
        program = models.Program.objects.create(
            client=client,
            template=template,
            place_id=place_id,
            apparatus_id=apparatus_id,
            minutes=minutes,
            pace=pace.value,
            fitted_for=fitted_for(facts, machine, minutes),
            made_by=by,
            made_at=now,
        )
        _write_lines(program, fit_template(template, client_id, facts, machine, minutes=minutes, pace=pace))
        _give_care(program, client, by, now)
        audit.wrote("assign_program", program, by=by, now=now, client_key=client.pk)
    return program


def _check(template: models.Template, client: Client, place_id: UUID | None, minutes: int, now: datetime) -> None:
    if template.state != models.Template.State.ACTIVE:
        raise Refused(Reason("template_not_in_use", f"{template.name} is not in use.", "template", "a template in use"))
    if not 10 <= minutes <= 240:
        raise Refused(Reason("minutes", "A program lasts between 10 and 240 minutes.", "minutes", "10 to 240"))
    if place_id is None:
        return
    place = Place.objects.select_related("lesson").get(pk=place_id)
    if place.client_id != client.pk:
        raise Refused(Reason("other_client", "That place belongs to somebody else.", "place"))
    if models.Log.objects.filter(place_id=place_id).exists():
        raise Refused(
            Reason("log_begun", "This lesson is already being logged, so its program stays as it is.", "template")
        )
    models.Program.objects.filter(place_id=place_id, replaced_at=None).update(replaced_at=now)


def limit_facts(limits: Iterable[LimitFound]) -> dict[str, fitting.LimitFact]:
    """The strictest word on each demand, as fitting takes it: a limit of one side counts for the whole row."""
    limits = tuple(limits)
    strictest = levels_of(limits)
    facts: dict[str, fitting.LimitFact] = {}
    for limit in limits:
        if limit.level is strictest[limit.demand] and limit.demand not in facts:
            facts[limit.demand] = fitting.LimitFact(limit.level, limit.because, limit.how, limit.source_ids)
    return facts


def fitted_for(
    facts: Mapping[str, fitting.LimitFact], machine: machine_queries.Machine, minutes: int
) -> dict[str, Any]:
    """What a program was fitted for, to be compared when it is opened: no health word, only a digest of the limits."""
    levels = sorted((demand, fact.level.value) for demand, fact in facts.items())
    digest = hashlib.sha256(json.dumps(levels).encode()).hexdigest()
    return {"limits": digest, "apparatus": machine.id, "springs": machine.letters, "minutes": minutes}


def fit_template(
    template: models.Template,
    client_id: UUID,
    facts: Mapping[str, fitting.LimitFact],
    machine: machine_queries.Machine,
    *,
    minutes: int,
    pace: Pace,
) -> fitting.FittedProgram:
    """The template's lines fitted, changing nothing."""
    lines = template.lines.order_by("position")
    planned = [PlannedLine(str(line.position), line.exercise_id, line.reps, line.springs) for line in lines]
    known = client_queries.known_by(client_id)
    return fitting.fit(
        planned,
        facts,
        repertoire_queries.exercises(),
        times=repertoire_queries.times(),
        owned=known.owned,
        known=known.met,
        inventory=machine.springs,
        minutes=minutes,
        pace=pace,
        at_hand={machine.kind} | machine_queries.kinds_at_hand(machine.studio_id),
    )


def _write_lines(program: models.Program, fitted: fitting.FittedProgram) -> None:
    models.ProgramLine.objects.bulk_create(
        models.ProgramLine(
            program=program,
            position=position,
            planned_id=line.planned_exercise_id,
            exercise_id=line.exercise_id,
            decision=line.decision.value,
            spring_set=line.springs.letters if line.springs else "",
            reps=line.reps,
            seconds=round(line.seconds),
            changed_to=line.form,
            why=[_why(step) for step in line.why],
            demands=sorted(line.demands),
        )
        for position, line in enumerate(fitted.lines, 1)
    )


def _why(step: fitting.Why) -> dict[str, Any]:
    return {
        "exercise_id": step.exercise_id,
        "demand": step.demand,
        "level": step.level.value,
        "rule": step.rule.value,
        "because": list(step.because),
        "source_ids": list(step.source_ids),
        "how": step.how,
    }


def _give_care(program: models.Program, client: Client, by: Person, now: datetime) -> None:
    """Whoever assigned a program may read the limits it was fitted for, from today on."""
    care_actions.give_care(
        person=by,
        client=client,
        first_day=days.day_of(now, client),
        last_day=None,
        why="assigned a program",
        source=f"program:{program.pk}",
        now=now,
    )
