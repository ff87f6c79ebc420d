"""The check-in before a lesson: today's sore places limit this day only, and the program is fitted to them at once."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients import actions as client_actions
from clients import queries as clients_queries
from clients.actions import reading
from clients.models import Client, Screening
from clients.rules.outcomes import Level
from programming import models
from programming.actions import facts, fits, programs
from programming.queries import fits as fit_queries
from programming.queries import programs as program_queries
from programming.rules import checkins as rules
from programming.rules.checkins import SIGN_BY_KEY, Answers
from programming.rules.fitting import LimitFact
from scheduling import queries as scheduling_queries
from scheduling.rules.places import HOLDING
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused
from studio.rules.zones import local_day


@dataclass(frozen=True)
class CheckedIn:
    """What a check-in led to. `program_id` is the one fitted for today, None when nothing had to be fitted anew.

    `is_late` says that the lesson is being logged already, so that its program stays and the teacher leaves out by
    hand. `review_called` and `form_asked` are what was handed on.
    """

    answers: Answers
    program_id: UUID | None
    is_late: bool
    review_called: bool
    form_asked: bool


@dataclass(frozen=True)
class TodayLimit:
    """A movement that is left out, changed or watched today, by its name."""

    name: str
    level: Level


@dataclass(frozen=True)
class Touched:
    """A line of the program that today's findings still meet: its number, its name and the strictest level."""

    no: int
    name: str
    level: Level


@dataclass(frozen=True)
class OpenCheckIn:
    """The check-in of a place that stands, opened; `answers` is None before anybody was asked.

    `limits` are today's findings, strictest first. `touched` are lines of the program that they still meet: in a lesson
    that is fitted to them none is to be avoided.
    """

    place: scheduling_queries.PlaceFacts
    answers: Answers | None
    at: datetime | None
    by: str
    limits: tuple[TodayLimit, ...] = ()
    touched: tuple[Touched, ...] = ()
    program_id: UUID | None = None
    today_only: bool = False
    begun: bool = False

    @property
    def told(self) -> str:
        return rules.told(self.answers) if self.answers else ""


def open_check_in(place_id: UUID, *, by: Person, now: datetime, why: str = "") -> OpenCheckIn:
    """What was said before this lesson, the reading on record. Raises Refused as reading limits does."""
    with transaction.atomic():
        place = scheduling_queries.place_facts(place_id)
        client = Client.objects.select_related("home").get(pk=place.client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        row = models.CheckIn.objects.select_related("by").filter(place_id=place_id, replaced_at=None).first()
        begun = models.Log.objects.filter(place_id=place_id).exists()
        if row is None:
            return OpenCheckIn(place, None, None, "", begun=begun)
        audit.read("read_check_in", row, by=by, now=now, client_key=client.pk, why=why)
        answers = facts.opened_answers(row, client)
        found = rules.findings(answers)
        program = program_queries.loaded_for_place(place_id)
        return OpenCheckIn(
            place=place,
            answers=answers,
            at=row.at,
            by=row.by.name if row.by else "",
            limits=_in_words(found),
            touched=_touched(program, found) if program else (),
            program_id=program.pk if program else None,
            today_only=bool(program and program.today_only),
            begun=begun,
        )


def _in_words(found: Mapping[str, LimitFact]) -> tuple[TodayLimit, ...]:
    rulebook = clients_queries.rules_in_force().rulebook
    limits = [TodayLimit(fit_queries.demand_words(demand, rulebook), fact.level) for demand, fact in found.items()]
    return tuple(sorted(limits, key=lambda one: (rules.LEVELS.index(one.level), one.name)))


def _touched(program: models.Program, found: Mapping[str, LimitFact]) -> tuple[Touched, ...]:
    fit = fits.opened(program)
    lines = []
    for line in program_queries.view(program, fit).lines:
        level = rules.asked(fit.of(line.no).demands, found)
        if not line.is_out and level in (Level.AVOID, Level.ADAPT):
            lines.append(Touched(line.no, line.name, level))
    return tuple(lines)


def is_its_day(place: scheduling_queries.PlaceFacts, now: datetime) -> bool:
    """Whether a check-in may be taken: the place is held, and it is the day of its lesson there."""
    return place.live and place.state in HOLDING and place.day == local_day(now, place.zone)


def check_in(place_id: UUID, *, answers: Answers, by: Person, now: datetime, why: str = "") -> CheckedIn:
    """Keep what was said and fit the lesson's program to it, for today only; another word replaces the first.

    Pain of 4 and more, and any stop sign, call a review. A stop sign also asks for the whole form again, so that no
    lesson starts before it is answered, and fits nothing. Raises Refused for answers nobody can have given, for another
    day than the lesson's, for a place that is not held, and as reading limits does.
    """
    if reasons := rules.refusals(answers):
        raise Refused(reasons)
    with transaction.atomic():
        client, place = _held(place_id, by=by, now=now, why=why)
        _put(client, place_id, answers, by, now)
        called = answers.asks_review and client_actions.call_review(client.pk, by=by, now=now) is not None
        asked = _ask_form(client, answers, by, now)
        if answers.route is not None:
            return CheckedIn(answers, None, False, called, asked)
        program_id, is_late = _fitted(place.place_id, by=by, now=now, why=why)
    return CheckedIn(answers, program_id, is_late, called, asked)


def take_back_check_in(place_id: UUID, *, by: Person, now: datetime, why: str = "") -> UUID | None:
    """Nothing was said: the program is fitted again without it; its key, None when nothing stands.

    A review that was called and a form that was asked for stay: they are settled where they are held and filled in.
    """
    with transaction.atomic():
        client, place = _held(place_id, by=by, now=now, why=why)
        for row in models.CheckIn.objects.filter(place_id=place_id, replaced_at=None):
            row.replaced_at = now
            row.save(update_fields=["replaced_at"])
            audit.wrote("take_back_check_in", row, by=by, now=now, client_key=client.pk)
        return _fitted(place.place_id, by=by, now=now, why=why)[0]


def _held(place_id: UUID, *, by: Person, now: datetime, why: str) -> tuple[Client, scheduling_queries.PlaceFacts]:
    place = scheduling_queries.place_facts(place_id)
    client = Client.objects.select_for_update(of=("self",), no_key=True).select_related("home").get(pk=place.client_id)
    reading.allowed(client, by=by, now=now, why=why)
    if not place.live or place.state not in HOLDING:
        raise Refused(Reason("place_not_held", "That place is not held any more.", "place", "a place that is booked"))
    if not is_its_day(place, now):
        says = f"The check-in belongs to the day of the lesson, {place.start_wall:%A} {place.start_wall.day} "
        raise Refused(Reason("not_its_day", says + f"{place.start_wall:%B}.", allowed="ask on the day"))
    return client, place


def _put(client: Client, place_id: UUID, answers: Answers, by: Person, now: datetime) -> None:
    models.CheckIn.objects.filter(place_id=place_id, replaced_at=None).update(replaced_at=now)
    row = models.CheckIn(client=client, place_id=place_id, by=by, at=now)
    row.sealed_answers = facts.sealed_answers(row, answers, client)
    row.save(force_insert=True)
    audit.wrote("check_in", row, by=by, now=now, client_key=client.pk)


def _ask_form(client: Client, answers: Answers, by: Person, now: datetime) -> bool:
    """After a stop sign the whole form is asked; without a form in force it is missing anyway."""
    if not answers.signs or not Screening.objects.filter(client=client, replaced_at=None).exists():
        return False
    events = {SIGN_BY_KEY[key].event for key in answers.signs}
    event = next((one for one in ("faint", "fall") if one in events), "symptom")
    client_actions.ask_form_again(client.pk, why=event, kind="full", by=by, now=now)
    return True


def _fitted(place_id: UUID, *, by: Person, now: datetime, why: str) -> tuple[UUID | None, bool]:
    """The program of the place fitted to what stands now; whether its log has begun, so that it was left alone."""
    program = models.Program.objects.filter(place_id=place_id, replaced_at=None).first()
    if program is None:
        return None, False
    if models.Log.objects.filter(place_id=place_id).exists():
        return None, True
    return programs.refit_program(program.pk, by=by, now=now, why=why).pk, False
