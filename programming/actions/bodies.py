"""A client's build and measures: noted by a teacher, sealed with the client's key, each opening on record."""

from dataclasses import replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from clients import queries as clients_queries
from clients.actions import health as health_actions
from clients.actions import reading, seals
from clients.models import Client
from programming import models
from programming.rules import bodies as rules
from programming.rules.bodies import BodyFacts
from studio.actions import audit
from studio.models import Person
from studio.rules import Refused

COLUMN = "sealed_body"


def read_body(client_id: UUID, *, by: Person | None, now: datetime, why: str = "") -> BodyFacts:
    """What is noted of a client's body, empty when nothing was. Raises Refused as reading limits does."""
    with transaction.atomic():
        client = Client.objects.select_related("home").get(pk=client_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        row = _in_force(client)
        if row is None:
            return BodyFacts()
        audit.read(
            "read_body", row, by=by, now=now, client_key=client.pk, why=why, actor="" if by else health_actions.MACHINE
        )
        return _opened(row, client)


def body_of(client: Client) -> BodyFacts:
    """The same for another action, which records who reads."""
    row = _in_force(client)
    return _opened(row, client) if row else BodyFacts()


def note_body(client_id: UUID, *, facts: BodyFacts, by: Person, now: datetime, why: str = "") -> models.Body | None:
    """Keep these notes and measures in place of the ones before, which stay on file; the row in force.

    A leg that was measured anew is dated today. The same again changes nothing; nothing at all, where nothing was, is
    not kept. Raises Refused for what no body has, and as reading limits does.
    """
    if reasons := rules.refusals(facts):
        raise Refused(reasons)
    with transaction.atomic():
        client = _locked(client_id)
        reading.allowed(client, by=by, now=now, why=why)
        row = _in_force(client)
        before = _opened(row, client) if row else BodyFacts()
        wanted = replace(facts, leg_on=_measured_on(facts, before, clients_queries.day_of(now, client)))
        return row if wanted == before else _kept(client, wanted, by, now)


def take_back_body(client_id: UUID, *, by: Person, now: datetime, why: str = "") -> models.Body | None:
    """The notes and measures that stood before the present ones, in force again; None when there were none."""
    with transaction.atomic():
        client = _locked(client_id)
        reading.allowed(client, by=by, now=now, why=why)
        standing = _in_force(client)
        if standing is None:
            return None
        earlier = models.Body.objects.filter(client=client, replaced_at=standing.at).order_by("-at").first()
        return _kept(client, _opened(earlier, client) if earlier else BodyFacts(), by, now)


def _kept(client: Client, facts: BodyFacts, by: Person, now: datetime) -> models.Body:
    models.Body.objects.filter(client=client, replaced_at=None).update(replaced_at=now)
    row = models.Body(client=client, by=by, at=now)
    row.sealed_body = seals.sealed(_plain(facts), row=row, column=COLUMN, client=client)
    row.save(force_insert=True)
    audit.wrote("note_body", row, by=by, now=now, client_key=client.pk)
    return row


def _locked(client_id: UUID) -> Client:
    return Client.objects.select_for_update(of=("self",), no_key=True).select_related("home").get(pk=client_id)


def _in_force(client: Client) -> models.Body | None:
    return models.Body.objects.filter(client=client, replaced_at=None).first()


def _measured_on(facts: BodyFacts, before: BodyFacts, today: date) -> date | None:
    if facts.leg_mm is None:
        return None
    return before.leg_on if facts.leg_mm == before.leg_mm else today


def _plain(facts: BodyFacts) -> dict[str, Any]:
    return {
        "notes": sorted(facts.notes),
        "stature_mm": facts.stature_mm,
        "leg_mm": facts.leg_mm,
        "leg_on": facts.leg_on,
        "sex": facts.sex,
    }


def _opened(row: models.Body, client: Client) -> BodyFacts:
    if not row.sealed_body:
        return BodyFacts()
    found = seals.opened(row, COLUMN, client=client)
    leg_on = date.fromisoformat(found["leg_on"]) if found["leg_on"] else None
    return BodyFacts(frozenset(found["notes"]), found["stature_mm"], found["leg_mm"], leg_on, found["sex"])
