"""The brief: what a teacher knows before the lesson begins, each reading of health kept on record."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients import queries as clients_queries
from clients.actions import health as health_actions
from clients.queries import whys
from programming import models
from programming.actions import checkins, logs
from programming.actions.programs import OpenProgram, open_program
from programming.queries import clients as known_clients
from programming.queries import logs as log_queries
from programming.queries import programs as program_queries
from scheduling import queries as scheduling_queries
from studio.models import Person
from studio.rules import Role

LEVELS = ("avoid", "adapt", "watch")


@dataclass(frozen=True)
class LimitGroup:
    """The limits of one level: which demands are met in which way, and why, each path once."""

    level: str
    ways: tuple[tuple[tuple[str, ...], str], ...]
    chains: tuple[whys.Chain, ...]


@dataclass(frozen=True)
class FloorBrief:
    """Everything of the brief. `lesson_no` counts her lessons; `note` is the last lesson's note, opened."""

    place: scheduling_queries.PlaceFacts
    health: health_actions.Brief
    form: clients_queries.FormStanding
    lesson_no: int
    age: int | None
    touch_agreed_at: datetime | None
    last: log_queries.LastLesson | None
    note: str
    stands: tuple[log_queries.Stands, ...]
    reviews: tuple[known_clients.NextReview, ...]
    program: OpenProgram | None
    check_in: checkins.OpenCheckIn
    may_check_in: bool

    @property
    def limit_groups(self) -> tuple[LimitGroup, ...]:
        """The limits by level, strictest first, demands met in the same way together."""
        found = [(level, [one for one in self.health.limits if one.level == level]) for level in LEVELS]
        return tuple(LimitGroup(level, _ways(limits), _chains(limits)) for level, limits in found if limits)


def open_brief(place_id: UUID, *, by: Person, now: datetime, why: str = "") -> FloorBrief:
    """The brief of a place. Raises Place.DoesNotExist, and Refused (`not_open`, `say_why`) as reading health does."""
    with transaction.atomic():
        place = scheduling_queries.place_facts(place_id)
        health = health_actions.read_brief(place.client_id, by=by, now=now, why=why)
        card = clients_queries.card(place.client_id)
        last = log_queries.last_lesson(place.client_id, before=place.span.start)
        program_id = program_queries.of_place(place_id)
        return FloorBrief(
            place=place,
            health=health,
            form=clients_queries.form_standings([place.client_id], on=place.day)[place.client_id],
            lesson_no=card.visits + (0 if place.completed_at else 1),
            age=_age(card, place),
            touch_agreed_at=known_clients.touch_agreed_on(place.client_id),
            last=last,
            note=_note(last, by, now, why),
            stands=tuple(log_queries.standings(place.client_id, since=last.on if last else None, limit=6)),
            reviews=tuple(known_clients.reviews_of(place.client_id, on=place.day)),
            program=open_program(program_id, by=by, now=now, why=why) if program_id else None,
            check_in=checkins.open_check_in(place_id, by=by, now=now, why=why),
            may_check_in=by.has_role(Role.INSTRUCTOR) and checkins.is_its_day(place, now),
        )


def _ways(limits: Sequence[whys.LimitLine]) -> tuple[tuple[tuple[str, ...], str], ...]:
    names: dict[str, list[str]] = {}
    for limit in limits:
        names.setdefault(limit.how, []).append(f"{limit.name}, {limit.side}" if limit.side else limit.name)
    return tuple((tuple(found), how) for how, found in names.items())


def _chains(limits: Sequence[whys.LimitLine]) -> tuple[whys.Chain, ...]:
    return whys.grouped(chain for limit in limits for chain in limit.chains)


def _age(card: clients_queries.ClientCard, place: scheduling_queries.PlaceFacts) -> int | None:
    if card.born_on is None:
        return None
    day, born = place.day, card.born_on
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def _note(last: log_queries.LastLesson | None, by: Person, now: datetime, why: str) -> str:
    if last is None or not last.has_note:
        return ""
    log = models.Log.objects.select_related("program__client").get(pk=last.log_id)
    return logs.opened_note(log, by=by, now=now, why=why or "care")
