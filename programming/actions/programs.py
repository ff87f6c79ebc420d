"""Assigning a template to a client: fitted to her limits, this machine and this slot, every change with its reasons."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet

from clients import queries as clients_queries
from clients.actions import care as care_actions
from clients.models import Client
from programming import models
from programming.actions import facts as fact_actions
from programming.actions import fits, fitted, holds
from programming.queries import machines as machine_queries
from programming.queries import programs as program_queries
from programming.queries import repertoire, reports
from programming.queries.fits import Fit
from programming.rules import validation
from programming.rules.timing import Pace
from scheduling import queries as scheduling_queries
from scheduling.models import Place
from scheduling.rules.places import HOLDING
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused


@dataclass(frozen=True)
class OpenProgram:
    """A program as it was opened: `stale` says in words what has changed since it was fitted, empty when nothing.

    `findings` are what the rules say of it, each with the exercise whose prerequisites a teacher may waive, if any.
    """

    view: program_queries.ProgramView
    stale: tuple[str, ...]
    log_begun: bool
    findings: tuple[tuple[validation.Finding, str], ...]

    @property
    def may_change(self) -> bool:
        """Whether its lines may still be changed: it stands, and its lesson is not being taught."""
        return self.view.replaced_at is None and not self.log_begun


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
    group_plan_id: UUID | None = None,
    why: str = "",
) -> models.Program:
    """Fit the template for this client, machine and slot, and keep it as the program of the place.

    What was said at a check-in of the lesson's day tightens her limits, for this program only. An earlier program of
    the same place is replaced, never changed; fitted again to the same it stays. `why` is the reason of a teacher who
    does not care for the client. Raises Refused when the template is not in use, the place is not this client's, its
    log has begun, or the reader may not see this client's limits.
    """
    with transaction.atomic():
        client = Client.objects.select_for_update(of=("self",), no_key=True).get(pk=client_id)
        template = models.Template.objects.get(pk=template_id)
        _check(template, client, place_id, minutes)
        facts = fact_actions.gathered(client_id, day=day_of(place_id), by=by, now=now, why=why)
        program = models.Program(
            client=client, template=template, place_id=place_id, apparatus_id=apparatus_id, minutes=minutes,
            pace=pace.value, group_plan_id=group_plan_id, made_by=by, made_at=now,
        )  # fmt: skip
        lines, fit = fitted.fit_program(program, facts, machine_queries.machine(apparatus_id))
        if standing := same(program, lines, fit):
            as_fitted(standing)
            return standing
        keep(program, lines, fit, by=by, now=now)
    return program


def keep(program: models.Program, lines: Sequence[models.ProgramLine], fit: Fit, *, by: Person, now: datetime) -> None:
    """Save a program with its lines and its sealed part, in place of the one that stands.

    The client's row is locked by the caller. Whoever assigns it may read the limits it was fitted for, from then on.
    """
    program.sealed_fit = fits.sealed(program, fit)
    _standing(program).update(replaced_at=now)
    program.save(force_insert=True)
    models.ProgramLine.objects.bulk_create(lines)
    holds.hold_for(program, lines, by=by, now=now)
    _give_care(program, program.client, by, now)
    audit.wrote("assign_program", program, by=by, now=now, client_key=program.client_id)


def refit_program(program_id: UUID, *, by: Person, now: datetime, why: str = "") -> models.Program:
    """The same template fitted anew to today's limits, the machine and the length its place has now.

    Raises Refused as `assign_program` does, and for a program that was replaced.
    """
    program = models.Program.objects.select_related("place").get(pk=program_id)
    check_stands(program)
    apparatus_id, minutes = meant_for(program)
    return assign_program(
        client_id=program.client_id,
        template_id=program.template_id,
        apparatus_id=apparatus_id,
        minutes=minutes,
        by=by,
        now=now,
        place_id=program.place_id,
        pace=Pace(program.pace),
        group_plan_id=program.group_plan_id,
        why=why,
    )


def open_program(program_id: UUID, *, by: Person, now: datetime, why: str = "") -> OpenProgram:
    """A program with its why lines, compared with what it was fitted for; the reading of limits is kept on record.

    Raises Program.DoesNotExist, and Refused when the reader may not see this client's limits.
    """
    row = program_queries.loaded(program_id)
    day = day_of(row.place_id)
    facts = fact_actions.gathered(row.client_id, day=day, by=by, now=now, why=why)
    fit = fits.opened(row)
    apparatus_id, minutes = meant_for(row)
    stale = tuple(fitted.differs(row, fit, facts, machine_queries.machine(apparatus_id), minutes))
    stored = sorted(row.lines.all(), key=lambda line: line.position)
    taught = {position: one.taught for position, one in program_queries.rows_of(stored).items()}
    judged = reports.judged(row, stored, fit, taught, repertoire.times(), day=day)
    begun = models.Log.objects.filter(program_id=program_id).exists()
    waivable = {str(line.position): line.exercise_id or "" for line in stored}
    findings = tuple((one, waivable.get(one.line or "", "") if one.is_waivable else "") for one in judged.findings)
    return OpenProgram(program_queries.view(row, fit), stale, begun, findings)


def check_stands(program: models.Program) -> None:
    """Raises Refused for a program that another one has replaced."""
    if program.replaced_at:
        raise Refused(Reason("replaced", "Another program has taken its place.", allowed="fit that one"))


def check_not_begun(program: models.Program) -> None:
    """Raises Refused when the lesson is being logged: what is taught stays as it is written."""
    if models.Log.objects.filter(Q(program=program) | Q(place_id=program.place_id, place__isnull=False)).exists():
        raise Refused(LOG_BEGUN)


LOG_BEGUN = Reason("log_begun", "This lesson is already being logged, so its program stays as it is.", "template")


def meant_for(program: models.Program) -> tuple[int, int]:
    """The machine and the minutes its place has now; its own when it has no place."""
    place = program.place
    return (place.apparatus_id, minutes_of(place)) if place else (program.apparatus_id, program.minutes)


def minutes_of(place: Place) -> int:
    return int((place.during.upper - place.during.lower).total_seconds() // 60)


def day_of(place_id: UUID | None) -> date | None:
    """The local day of a place; None without one."""
    return scheduling_queries.place_facts(place_id).day if place_id else None


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
        raise Refused(LOG_BEGUN)


def _standing(program: models.Program) -> QuerySet[models.Program]:
    """What the new program would replace: the one of its place, or the client's standing one."""
    of_place = Q(place_id=program.place_id) if program.place_id else Q(place_id=None, client_id=program.client_id)
    return models.Program.objects.filter(of_place, replaced_at=None).exclude(pk=program.pk)


def same(program: models.Program, lines: Sequence[models.ProgramLine], fit: Fit) -> models.Program | None:
    """The program that stands already, when fitting again has changed nothing in it."""
    standing = _standing(program).select_related("client").order_by("-made_at").first()
    if standing is None:
        return None
    told = ("template_id", "apparatus_id", "minutes", "pace", "fitted_for", "group_plan_id")
    if any(getattr(standing, name) != getattr(program, name) for name in told):
        return None
    kept = [_told(line) for line in standing.lines.order_by("position")]
    return standing if kept == [_told(line) for line in lines] and fits.opened(standing) == fit else None


def _told(line: models.ProgramLine) -> tuple[Any, ...]:
    names = ("position", "planned_id", "exercise_id", "decision", "spring_set", "reps", "seconds")
    return tuple(getattr(line, name) for name in (*names, "planned_version", "exercise_version"))


def as_fitted(standing: models.Program) -> None:
    """Fitted again to the same: nothing differs from what it was fitted for."""
    if standing.differs_since is not None:
        standing.differs_since = None
        standing.save(update_fields=["differs_since"])


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
