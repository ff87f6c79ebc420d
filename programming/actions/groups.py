"""One plan for all people of a lesson: solved exactly, kept as each person's own program, and taken back."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from itertools import accumulate
from typing import Any
from uuid import UUID

from django.db import transaction

from clients import queries as clients_queries
from clients.actions import reading
from clients.models import Client
from programming import models
from programming.actions import facts as fact_actions
from programming.actions import fits, fitted, holds, programs
from programming.queries import groups as group_queries
from programming.queries import ladders as ladder_queries
from programming.queries import machines as machine_queries
from programming.queries import repertoire as repertoire_queries
from programming.queries.fits import Fit
from programming.rules import fitting, groups
from programming.rules.lines import PlannedLine
from programming.rules.repertoire import ExerciseRow
from programming.rules.shared import Use, wants_of_group
from programming.rules.timing import Fit as TimeFit
from programming.rules.timing import Pace, Slot, Times
from scheduling.actions import items as item_actions
from scheduling.models import Lesson, Place
from scheduling.queries import items as item_queries
from scheduling.queries.house import range_of
from scheduling.rules.items import ItemKind
from scheduling.rules.places import HOLDING
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused

LEAST_PEOPLE = 2
# Long enough that no line is left out for time: what to leave out for everybody is the teacher's to say.
NO_SLOT = 24 * 60
NO_REASONS: Mapping[UUID, str] = {}
FOR_THE_GROUP = "left out in the group: the teacher's eye or a shared thing is needed elsewhere"


@dataclass(frozen=True)
class _Seat:
    """One person of the lesson with all that her lines are fitted to."""

    place: Place
    client: Client
    facts: fact_actions.FitFacts
    machine: machine_queries.Machine


@dataclass(frozen=True)
class _Plan:
    """A solved plan before it is written: the shared lines with their positions in the template."""

    lesson: Lesson
    template: models.Template
    planned: Sequence[PlannedLine]
    seats: Sequence[_Seat]
    offered: groups.Offers
    own: Sequence[fitting.FittedProgram]
    shared: groups.Shared
    repertoire: Mapping[str, ExerciseRow]
    times: Times

    @property
    def seconds(self) -> float:
        return self.times.arrival + self.shared.cost.deciseconds / 10 + self.times.close


def make_group_plan(
    lesson_id: UUID,
    *,
    template_id: UUID,
    by: Person,
    now: datetime,
    pace: Pace = Pace.WORKING,
    one_voice: bool = False,
    without: Collection[int] = (),
    whys: Mapping[UUID, str] = NO_REASONS,
) -> models.GroupPlan:
    """The plan with the fewest separate instructions for all who hold a place, each person's lines as her program.

    `without` are lines of the template left out for everybody, by position; `one_voice` lets who could do a line as
    planned join the easier form of the others. Programs and an earlier plan of the lesson are replaced, never changed;
    made again to the same they stay.
    `whys` are the reasons of somebody who does not care for these people, by client. Raises Refused for fewer than two
    people, somebody who is taught alone for now, a template not in use, a log that has begun, limits the reader may
    not see, or a plan that is far too long for the lesson.
    """
    with transaction.atomic():
        lesson = Lesson.objects.get(pk=lesson_id)
        template = models.Template.objects.get(pk=template_id)
        places = _places(lesson)
        _check(template, places)
        _reasons([place.client for place in places], by=by, now=now, whys=whys)
        seats = [_seat(place, by=by, now=now, why=whys.get(place.client_id, "")) for place in places]
        _check_together(seats)
        plan = _solved(lesson, template, seats, pace=pace, one_voice=one_voice, without=frozenset(without))
        _check_time(plan)
        return _kept(plan, pace=pace, one_voice=one_voice, by=by, now=now)


def check_reader(lesson_id: UUID, *, by: Person, now: datetime, whys: Mapping[UUID, str] = NO_REASONS) -> None:
    """Raises Refused when making a plan for this lesson would ask for a reason that `whys` (by client) does not have.

    Nothing is read, and nothing is kept on record.
    """
    rows = Place.objects.filter(lesson=lesson_id, live=True, state__in=HOLDING).select_related("client")
    _reasons([place.client for place in rows.order_by("client__name", "pk")], by=by, now=now, whys=whys)


def open_group_plan(
    plan_id: UUID, *, by: Person, now: datetime, whys: Mapping[UUID, str] = NO_REASONS
) -> group_queries.GroupView:
    """A plan with everybody's lines; that each person's changes were read is kept on record, with its reason.

    `whys` are the reasons of somebody who does not care for these people, by client. Raises GroupPlan.DoesNotExist,
    and Refused `say_why` once for all whose reason is missing, before anything is read.
    """
    plan = group_queries.loaded(plan_id)
    rows = group_queries.programs_of(plan)
    reasons = _reasons([row.client for row in rows], by=by, now=now, whys=whys)
    opened = {}
    for row in rows:
        audit.read("open_group_plan", row, by=by, now=now, client_key=row.client_id, why=reasons[row.client_id])
        opened[row.pk] = fits.opened(row)
    return group_queries.view(plan, rows, opened)


def take_back_group_plan(plan_id: UUID, *, by: Person, now: datetime) -> None:
    """Undo `make_group_plan`: the programs it replaced stand again. Raises Refused once a log has begun."""
    with transaction.atomic():
        plan = models.GroupPlan.objects.select_for_update().get(pk=plan_id)
        if plan.replaced_at:
            raise Refused(Reason("replaced", "Another plan has taken its place.", allowed="look at that one"))
        places = _places(plan.lesson)
        _check_not_begun(places)
        keys = [place.pk for place in places]
        before = list(models.Program.objects.filter(place__in=keys, replaced_at=plan.made_at).prefetch_related("lines"))
        earlier = list(models.GroupPlan.objects.filter(lesson=plan.lesson_id, replaced_at=plan.made_at))
        models.Program.objects.filter(place__in=keys, replaced_at=None).update(replaced_at=now)
        models.GroupPlan.objects.filter(pk=plan.pk).update(replaced_at=now)
        models.Program.objects.filter(pk__in=[row.pk for row in before]).update(replaced_at=None)
        models.GroupPlan.objects.filter(pk__in=[row.pk for row in earlier]).update(replaced_at=None)
        holds.let_go_of(keys, by=by, now=now)
        for program in before:
            holds.hold_for(program, list(program.lines.all()), by=by, now=now)
        audit.wrote("take back", plan, by=by, now=now)


def _places(lesson: Lesson) -> list[Place]:
    """Held places in a fixed order, their clients locked in the order of their keys."""
    rows = Place.objects.filter(lesson=lesson, live=True, state__in=HOLDING).select_related("client", "apparatus")
    found = sorted(rows, key=lambda place: (place.client.name, str(place.pk)))
    keys = [place.client_id for place in found]
    list(Client.objects.filter(pk__in=keys).order_by("pk").select_for_update(no_key=True, of=("self",)))
    return found


def _check(template: models.Template, places: Sequence[Place]) -> None:
    if template.state != models.Template.State.ACTIVE:
        raise Refused(Reason("template_not_in_use", f"{template.name} is not in use.", "template", "a template in use"))
    if not LEAST_PEOPLE <= len(places) <= groups.MOST_PEOPLE:
        says = f"A group plan is for two to six people; this lesson has {len(places)}."
        raise Refused(Reason("not_a_group", says, "template", "a program for one person"))
    _check_not_begun(places)


def _check_not_begun(places: Sequence[Place]) -> None:
    if models.Log.objects.filter(place__in=[place.pk for place in places]).exists():
        raise Refused(programs.LOG_BEGUN)


def _reasons(clients: Sequence[Client], *, by: Person, now: datetime, whys: Mapping[UUID, str]) -> dict[UUID, str]:
    """The reason to record for each; who may not be read without one is named, all of them at once."""
    found, missing = {}, []
    for client in clients:
        try:
            found[client.pk] = reading.allowed(client, by=by, now=now, why=whys.get(client.pk, ""))
        except Refused as refused:
            if refused.reasons[0].code != "say_why":
                raise
            missing.append(client.name)
    if missing:
        who = ", ".join(missing)
        says = f"You have no lesson now with {who}. Say why you need to look; it is recorded with your name."
        raise Refused(Reason("say_why", says, field="why", allowed="a few words"))
    return found


def _seat(place: Place, *, by: Person, now: datetime, why: str) -> _Seat:
    facts = fact_actions.gathered(place.client_id, day=programs.day_of(place.pk), by=by, now=now, why=why)
    return _Seat(place, place.client, facts, machine_queries.machine(place.apparatus_id))


def _check_together(seats: Sequence[_Seat]) -> None:
    """Raises Refused for everybody who is taught alone for now, without a word about why beyond what the rules say."""
    conditions = clients_queries.rules_in_force().rulebook.conditions
    reasons = []
    for seat in seats:
        found = groups.not_yet(
            first_visit=seat.place.first_visit,
            because={key for fact in seat.facts.standing.values() for key in fact.because},
            conditions=conditions,
            pains=[answers.pain for answers in seat.facts.today],
        )
        if found:
            says = f"{seat.client.name} {found.value}, and is taught alone for now."
            reasons.append(Reason("taught_alone", says, "template", "a lesson of her own"))
    if reasons:
        raise Refused(reasons)


def _solved(
    lesson: Lesson,
    template: models.Template,
    seats: Sequence[_Seat],
    *,
    pace: Pace,
    one_voice: bool,
    without: frozenset[int],
) -> _Plan:
    planned = [line for line in fitted.planned_lines(template) if int(line.planned_id) not in without]
    if not planned:
        raise Refused(Reason("no_lines", "Nothing is left of the template.", "without", "leave some lines in"))
    repertoire, times = repertoire_queries.exercises(), repertoire_queries.times()
    people = _people(seats, repertoire, times, pace)
    stock = item_queries.stock(lesson.pk)
    offered = groups.offers(planned, people, repertoire, shared=stock.keys(), one_voice=one_voice)
    shared = groups.shared_plan(groups.options_of(offered), stock)
    own = [person.fit(planned) for person in people]
    return _Plan(lesson, template, planned, seats, offered, own, shared, repertoire, times)


def _people(
    seats: Sequence[_Seat], repertoire: Mapping[str, ExerciseRow], times: Times, pace: Pace
) -> list[groups.Person]:
    here = machine_queries.kinds_at_hand(seats[0].machine.studio_id)
    same: dict[str, Any] = {"times": times, "minutes": NO_SLOT, "pace": pace}
    same["ladders"] = ladder_queries.steps_by_exercise()
    return [
        groups.Person(
            partial(_fit, seat, repertoire, {"at_hand": {seat.machine.kind} | here, **same}),
            seat.machine.kind,
            groups.barred(repertoire, seat.facts.known.owned),
        )
        for seat in seats
    ]


def _fit(
    seat: _Seat, repertoire: Mapping[str, ExerciseRow], same: Mapping[str, Any], lines: Sequence[PlannedLine]
) -> fitting.FittedProgram:
    facts = seat.facts
    return fitting.fit(
        lines,
        facts.limits,
        repertoire,
        owned=facts.known.owned,
        known=facts.known.met,
        inventory=seat.machine.springs,
        body=facts.notes,
        waived=facts.waived,
        ceilings=facts.ceilings,
        **same,
    )


def _check_time(plan: _Plan) -> None:
    span = range_of(plan.lesson.during)
    if Slot(span.minutes * 60).check(plan.seconds, plan.times) is TimeFit.BLOCK:
        says = f"Together this takes {plan.seconds / 60:.0f} minutes; the lesson has {span.minutes:.0f}."
        raise Refused(Reason("v2", says, "without", "leave lines out for everybody, or take a shorter template"))


def _kept(plan: _Plan, *, pace: Pace, one_voice: bool, by: Person, now: datetime) -> models.GroupPlan:
    row = models.GroupPlan(
        lesson=plan.lesson,
        template=plan.template,
        minutes=programs.minutes_of(plan.seats[0].place),
        pace=pace.value,
        instructions=plan.shared.cost.instructions,
        one_voice=one_voice,
        rounds=_rounds(plan),
        made_by=by,
        made_at=now,
    )
    standing = models.GroupPlan.objects.filter(lesson=plan.lesson, replaced_at=None).first()
    if standing and _is_same(standing, row, plan):
        item_actions.hold_for_program(_wanted(plan, row.rounds), by=by, now=now)
        return standing
    models.GroupPlan.objects.filter(lesson=plan.lesson, replaced_at=None).update(replaced_at=now)
    row.save(force_insert=True)
    models.GroupLine.objects.bulk_create(_lines(row, plan))
    for who, seat in enumerate(plan.seats):
        programs.keep(*_program(row, plan, who, seat), by=by, now=now)
    item_actions.hold_for_program(_wanted(plan, row.rounds), by=by, now=now)
    audit.wrote("make_group_plan", row, by=by, now=now, detail={"lesson": str(plan.lesson.pk)})
    return row


def _is_same(standing: models.GroupPlan, row: models.GroupPlan, plan: _Plan) -> bool:
    """Whether making the plan again has changed nothing in it, nor anybody in hers since; then her program is fresh."""
    told = ("template_id", "minutes", "pace", "one_voice", "instructions", "rounds")
    if any(getattr(standing, name) != getattr(row, name) for name in told):
        return False
    names = ("position", "exercise_id", "starts", "seconds")
    lines = [tuple(getattr(line, name) for name in names) for line in _lines(row, plan)]
    if list(standing.lines.order_by("position").values_list(*names)) != lines:
        return False
    found = [programs.same(*_program(standing, plan, who, seat)) for who, seat in enumerate(plan.seats)]
    kept = [one for one in found if one and one.made_at == standing.made_at and not one.revision]
    for one in kept:
        programs.as_fitted(one)
    return len(kept) == len(found)


def _rounds(plan: _Plan) -> list[dict[str, Any]]:
    """The rounds in whole seconds from the beginning of the lesson; the lines by their number in the plan, from 1."""
    lasts = [round(at.deciseconds / 10) for at in plan.shared.rounds]
    starts = accumulate(lasts, initial=round(plan.times.arrival))
    return [
        {
            "starts": begins,
            "seconds": seconds,
            "begun": {str(plan.seats[who].place.pk): one.line + 1 for who, one in enumerate(at.begun) if one},
        }
        for at, begins, seconds in zip(plan.shared.rounds, starts, lasts, strict=False)
    ]


def _lines(row: models.GroupPlan, plan: _Plan) -> list[models.GroupLine]:
    """Each shared line from when the first begins it to when the last is done with it."""
    found = []
    for position, line in enumerate(plan.planned, 1):
        here = [at for at in row.rounds if position in at["begun"].values()]
        starts, ends = here[0]["starts"], here[-1]["starts"] + here[-1]["seconds"]
        found.append(
            models.GroupLine(
                plan=row, position=position, exercise_id=line.exercise_id, starts=starts, seconds=ends - starts
            )
        )
    return found


def _program(
    row: models.GroupPlan, plan: _Plan, who: int, seat: _Seat
) -> tuple[models.Program, list[models.ProgramLine], Fit]:
    """Her program of the plan, with its lines and its sealed part; nothing of it is saved."""
    program = models.Program(
        client=seat.client, template=plan.template, place=seat.place, apparatus_id=seat.machine.id,
        minutes=row.minutes, pace=row.pace, group_plan=row, today_only=seat.facts.is_of_today,
        fitted_for=fitted.fitted_for(seat.machine, row.minutes), made_by=row.made_by, made_at=row.made_at,
    )  # fmt: skip
    whole = replace(plan.own[who], lines=tuple(_line(plan, at, who) for at in range(len(plan.planned))))
    fit = fits.fit_of(whole, fitted.digest_of(seat.facts.limits), fitted.fitted_to(seat.facts))
    return program, fitted.program_lines(program, whole), fit


def _line(plan: _Plan, at: int, who: int) -> fitting.FittedLine:
    """What she does at a shared line: the offer that was chosen, or nothing and why."""
    option, offered = plan.shared.option(at, who), plan.offered[at][who]
    if option is None:
        row = plan.repertoire[plan.planned[at].exercise_id]
        return groups.left_out(plan.own[who].lines[at], row, note=FOR_THE_GROUP if offered else "")
    return next(offer.line for offer in offered if offer.option == option)


def _wanted(plan: _Plan, rounds: Sequence[Mapping[str, Any]]) -> dict[UUID, list[tuple[ItemKind, Any]]]:
    """What is held for whom: in whole the most that one round uses, in the names of who uses it."""
    used = [
        {
            plan.seats[who].place.pk: [
                Use(ItemKind(kind), at["starts"], at["seconds"]) for kind in sorted(one.option.items)
            ]
            for who, one in enumerate(of.begun)
            if one and one.option
        }
        for of, at in zip(plan.shared.rounds, rounds, strict=True)
    ]
    found = wants_of_group(used, range_of(plan.lesson.during))
    return {seat.place.pk: [(one.kind, one.span) for one in found.get(seat.place.pk, ())] for seat in plan.seats}
