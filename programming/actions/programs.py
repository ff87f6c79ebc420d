"""Assigning a template to a client: fitted to her limits, this machine and this slot, every change with its reasons."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet

from clients import queries as clients_queries
from clients.actions import care as care_actions
from clients.actions import health as health_actions
from clients.models import Client
from clients.rules.limits import LimitFound, levels_of
from programming import models
from programming.actions import fits
from programming.queries import clients as client_queries
from programming.queries import machines as machine_queries
from programming.queries import programs as program_queries
from programming.queries import repertoire as repertoire_queries
from programming.rules import fitting
from programming.rules.lines import PlannedLine
from programming.rules.timing import Pace
from scheduling.models import Place
from scheduling.rules.places import HOLDING
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused


@dataclass(frozen=True)
class OpenProgram:
    """A program as it was opened: `stale` says in words what has changed since it was fitted, empty when nothing."""

    view: program_queries.ProgramView
    stale: tuple[str, ...]
    log_begun: bool


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
    why: str = "",
) -> models.Program:
    """Fit the template for this client, machine and slot, and keep it as the program of the place.

    An earlier program of the same place is replaced, never changed; fitted again to the same it stays. `why` is the
    reason of a teacher who does not care for the client. Raises Refused when the template is not in use, the place is
    not this client's, its log has begun, or the reader may not see this client's limits.
    """
    with transaction.atomic():
        client = Client.objects.select_for_update(of=("self",), no_key=True).get(pk=client_id)
        template = models.Template.objects.get(pk=template_id)
        _check(template, client, place_id, minutes)
        facts = limit_facts(health_actions.read_limits(client_id, by=by, now=now, why=why))
        program = models.Program(
            client=client, template=template, place_id=place_id, apparatus_id=apparatus_id, minutes=minutes,
            pace=pace.value, made_by=by, made_at=now,
        )  # fmt: skip
        lines, fit = _fit(program, facts)
        if standing := _same(program, lines, fit):
            return standing
        program.sealed_fit = fits.sealed(program, fit)
        _replace_and_save(program, lines, now)
        _give_care(program, client, by, now)
        audit.wrote("assign_program", program, by=by, now=now, client_key=client.pk)
    return program


def _fit(
    program: models.Program, facts: Mapping[str, fitting.LimitFact]
) -> tuple[list[models.ProgramLine], program_queries.Fit]:
    """The lines of a new program and their sealed part, and on the program what it was fitted for."""
    machine = machine_queries.machine(program.apparatus_id)
    program.fitted_for = fitted_for(machine, program.minutes)
    fitted = fit_template(
        program.template, program.client_id, facts, machine, minutes=program.minutes, pace=Pace(program.pace)
    )
    return _program_lines(program, fitted), fits.fit_of(fitted, digest_of(facts))


def refit_program(program_id: UUID, *, by: Person, now: datetime, why: str = "") -> models.Program:
    """The same template fitted anew to today's limits, the machine and the length its place has now.

    Raises Refused as `assign_program` does, and for a program that was replaced.
    """
    program = models.Program.objects.select_related("place").get(pk=program_id)
    if program.replaced_at:
        raise Refused(Reason("replaced", "Another program has taken its place.", allowed="fit that one"))
    place = program.place
    return assign_program(
        client_id=program.client_id,
        template_id=program.template_id,
        apparatus_id=place.apparatus_id if place else program.apparatus_id,
        minutes=_minutes_of(place) if place else program.minutes,
        by=by,
        now=now,
        place_id=program.place_id,
        pace=Pace(program.pace),
        why=why,
    )


def open_program(program_id: UUID, *, by: Person, now: datetime, why: str = "") -> OpenProgram:
    """A program with its why lines, compared with what it was fitted for; the reading of limits is kept on record.

    Raises Program.DoesNotExist, and Refused when the reader may not see this client's limits.
    """
    row = program_queries.loaded(program_id)
    facts = limit_facts(health_actions.read_limits(row.client_id, by=by, now=now, why=why))
    view = program_queries.view(row, fits.opened(row))
    place = Place.objects.get(pk=view.place_id) if view.place_id else None
    machine = machine_queries.machine(place.apparatus_id if place else view.apparatus_id)
    today = fitted_for(machine, _minutes_of(place) if place else view.minutes)
    begun = models.Log.objects.filter(program_id=program_id).exists()
    return OpenProgram(view, tuple(_stale(view, today, machine, digest_of(facts))), begun)


def _stale(
    view: program_queries.ProgramView, today: Mapping[str, Any], machine: machine_queries.Machine, limits: str
) -> Iterator[str]:
    was = view.fitted_for
    if was.get("apparatus") != today["apparatus"]:
        yield f"It was fitted for {view.machine}; the lesson is on {machine.label} now."
    elif was.get("springs") != today["springs"]:
        yield f"The springs of {machine.label} have changed since it was fitted."
    if was.get("minutes") != today["minutes"]:
        yield f"It was fitted for {was.get('minutes')} minutes; the lesson has {today['minutes']} now."
    if view.fitted_limits != limits:
        yield "The limits have changed since it was fitted."


def _minutes_of(place: Place) -> int:
    return int((place.during.upper - place.during.lower).total_seconds() // 60)


def _check(template: models.Template, client: Client, place_id: UUID | None, minutes: int) -> None:
    if template.state != models.Template.State.ACTIVE:
        raise Refused(Reason("template_not_in_use", f"{template.name} is not in use.", "template", "a template in use"))
    if not 10 <= minutes <= 240:
        raise Refused(Reason("minutes", "A program lasts between 10 and 240 minutes.", "minutes", "10 to 240"))
    if place_id is None:
        return
    place = Place.objects.get(pk=place_id)
    if place.client_id != client.pk:
        raise Refused(Reason("other_client", "That place belongs to somebody else.", "place"))
    if not place.live or place.state not in HOLDING:
        raise Refused(Reason("place_not_held", "That place is not held any more.", "place", "a place that is booked"))
    if models.Log.objects.filter(place_id=place_id).exists():
        raise Refused(
            Reason("log_begun", "This lesson is already being logged, so its program stays as it is.", "template")
        )


def _standing(program: models.Program) -> QuerySet[models.Program]:
    """What the new program would replace: the one of its place, or the client's standing one."""
    of_place = Q(place_id=program.place_id) if program.place_id else Q(place_id=None, client_id=program.client_id)
    return models.Program.objects.filter(of_place, replaced_at=None).exclude(pk=program.pk)


def _same(
    program: models.Program, lines: Sequence[models.ProgramLine], fit: program_queries.Fit
) -> models.Program | None:
    """The program that stands already, when fitting again has changed nothing in it."""
    standing = _standing(program).select_related("client").order_by("-made_at").first()
    if standing is None:
        return None
    told = ("template_id", "apparatus_id", "minutes", "pace", "fitted_for")
    if any(getattr(standing, name) != getattr(program, name) for name in told):
        return None
    kept = [_told(line) for line in standing.lines.order_by("position")]
    return standing if kept == [_told(line) for line in lines] and fits.opened(standing) == fit else None


def _told(line: models.ProgramLine) -> tuple[Any, ...]:
    names = ("position", "planned_id", "exercise_id", "decision", "spring_set", "reps", "seconds")
    return tuple(getattr(line, name) for name in (*names, "planned_version", "exercise_version"))


def _replace_and_save(program: models.Program, lines: Sequence[models.ProgramLine], now: datetime) -> None:
    _standing(program).update(replaced_at=now)
    program.save(force_insert=True)
    models.ProgramLine.objects.bulk_create(lines)


def limit_facts(limits: Iterable[LimitFound]) -> dict[str, fitting.LimitFact]:
    """The strictest word on each demand, as fitting takes it: a limit of one side counts for the whole row."""
    limits = tuple(limits)
    strictest = levels_of(limits)
    facts: dict[str, fitting.LimitFact] = {}
    for limit in limits:
        if limit.level is strictest[limit.demand] and limit.demand not in facts:
            facts[limit.demand] = fitting.LimitFact(limit.level, limit.because, limit.how, limit.source_ids)
    return facts


def fitted_for(machine: machine_queries.Machine, minutes: int) -> dict[str, Any]:
    """What a program was fitted for beside the limits, to be compared when it is opened."""
    return {"apparatus": machine.id, "springs": machine.letters, "minutes": minutes}


def digest_of(facts: Mapping[str, fitting.LimitFact]) -> str:
    """The same for the same limits. They are few enough to be guessed from it, so it is kept sealed."""
    levels = sorted((demand, fact.level.value) for demand, fact in facts.items())
    return hashlib.sha256(json.dumps(levels).encode()).hexdigest()


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


def _program_lines(program: models.Program, fitted: fitting.FittedProgram) -> list[models.ProgramLine]:
    named = {key for line in fitted.lines for key in (line.planned_exercise_id, line.exercise_id) if key}
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
        for position, line in enumerate(fitted.lines, 1)
    ]


def _give_care(program: models.Program, client: Client, by: Person, now: datetime) -> None:
    """Whoever assigned a program may read the limits it was fitted for, from today on."""
    care_actions.give_care(
        person=by,
        client=client,
        first_day=clients_queries.day_of(now, client),
        last_day=None,
        why="assigned a program",
        source=f"program:{program.pk}",
        now=now,
    )
