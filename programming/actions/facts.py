"""Everything of a client that a fit depends on, gathered and opened in one place."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from clients import queries as clients_queries
from clients.actions import health as health_actions
from clients.actions import reading, seals
from clients.models import Client
from clients.rules.limits import LimitFound, levels_of
from programming import models
from programming.actions import bodies
from programming.queries import clients as client_queries
from programming.queries.clients import Known
from programming.rules import checkins as rules
from programming.rules.checkins import Answers, Side, Slept, Sore
from programming.rules.fitting import LimitFact
from programming.rules.validation import UNSIGNED_LEVEL
from studio.actions import audit
from studio.models import Person
from studio.rules import ApparatusKind
from studio.rules.zones import local_day

COLUMN = "sealed_answers"
DAY = timedelta(days=1)


@dataclass(frozen=True)
class FitFacts:
    """What a client's program is fitted to. `standing` are the limits on record, `today` the check-ins of the day."""

    standing: Mapping[str, LimitFact]
    today: tuple[Answers, ...]
    own_notes: frozenset[str]
    waived: frozenset[str]
    ceilings: Mapping[ApparatusKind, int]
    known: Known

    @property
    def limits(self) -> dict[str, LimitFact]:
        """The limits on record, tightened by what was said today."""
        merged = dict(self.standing)
        for answers in self.today:
            merged = rules.tightened(merged, rules.findings(answers))
        return merged

    @property
    def notes(self) -> frozenset[str]:
        """Body notes, with those that today's sore places stand for."""
        return self.own_notes.union(*(rules.notes(answers) for answers in self.today))

    @property
    def is_of_today(self) -> bool:
        """Whether what was said today asks for more than what is on record."""
        return self.limits != self.standing or self.notes != self.own_notes

    @property
    def said(self) -> str:
        """The check-ins of the day in words; empty without one that found something."""
        return " · ".join(rules.told(answers) for answers in self.today if not answers.is_quiet)


def gathered(client_id: UUID, *, day: date | None, by: Person | None, now: datetime, why: str = "") -> FitFacts:
    """The facts of a client for a lesson on a local day (None: for no day, so without a check-in).

    Each reading is kept on record; without a person the house itself reads. Raises Refused as reading limits does.
    """
    limits = health_actions.read_limits(client_id, by=by, now=now, why=why)
    client = Client.objects.select_related("home").get(pk=client_id)
    signed = clients_queries.ceilings([client_id])[client_id]
    waived = models.Waiver.objects.filter(client=client, taken_back_at=None).values_list("exercise_id", flat=True)
    return FitFacts(
        standing=limit_facts(limits),
        today=check_ins_of(client, day=day, by=by, now=now, why=why) if day else (),
        own_notes=bodies.read_body(client_id, by=by, now=now, why=why).notes,
        waived=frozenset(waived),
        ceilings={kind: signed.get(kind.value, UNSIGNED_LEVEL) for kind in ApparatusKind},
        known=client_queries.known_by(client_id),
    )


def limit_facts(limits: Iterable[LimitFound]) -> dict[str, LimitFact]:
    """The strictest word on each demand, as fitting takes it: a limit of one side counts for the whole row."""
    limits = tuple(limits)
    strictest = levels_of(limits)
    facts: dict[str, LimitFact] = {}
    for limit in limits:
        if limit.level is strictest[limit.demand] and limit.demand not in facts:
            facts[limit.demand] = LimitFact(limit.level, limit.because, limit.how, limit.source_ids)
    return facts


def check_ins_of(client: Client, *, day: date, by: Person | None, now: datetime, why: str = "") -> tuple[Answers, ...]:
    """What was said at this client's check-ins of a local day, oldest first; each opening on record."""
    rows = models.CheckIn.objects.filter(client=client, replaced_at=None).select_related("place__lesson__studio")
    rows = rows.filter(at__date__range=(day - DAY, day + DAY)).order_by("at")
    found = []
    for row in rows:
        if local_day(row.place.during.lower, ZoneInfo(row.place.lesson.studio.time_zone)) == day:
            why = reading.allowed(client, by=by, now=now, why=why)
            actor = "" if by else health_actions.MACHINE
            audit.read("read_check_in", row, by=by, now=now, client_key=client.pk, why=why, actor=actor)
            found.append(opened_answers(row, client))
    return tuple(found)


def sealed_answers(row: models.CheckIn, answers: Answers, client: Client) -> bytes:
    said = {
        "sores": [[sore.site, sore.side] for sore in answers.sores],
        "pain": answers.pain,
        "slept": answers.slept,
        "signs": list(answers.signs),
    }
    return seals.sealed(said, row=row, column=COLUMN, client=client)


def opened_answers(row: models.CheckIn, client: Client) -> Answers:
    """What was said, empty when the client was erased. Whoever asks records who reads."""
    if not row.sealed_answers:
        return Answers()
    said = seals.opened(row, COLUMN, client=client)
    sores = tuple(Sore(site, Side(side) if side else None) for site, side in said["sores"])
    return Answers(sores, said["pain"], Slept(said["slept"]) if said["slept"] else None, tuple(said["signs"]))
