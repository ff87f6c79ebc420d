"""Movements to leave out that a teacher puts down, from the client's own words or from what she sees."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid4

from django.db import transaction

from clients import models, queries
from clients.actions import facts, locks, reading, screening, seals
from clients.rules.facts import Side
from clients.rules.outcomes import Level
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused

RestsOn = models.Restriction.RestsOn


@dataclass(frozen=True)
class Terms:
    """What is left out or changed: demands by id, how strictly, on which side (None: both).

    `is_own_words` says that these are the client's own words of the form in force, put into movements; they may then
    also mean no movement at all.
    """

    demands: frozenset[str]
    level: Level = Level.AVOID
    side: Side | None = None
    is_own_words: bool = False


def restrict(
    client_id: UUID, *, terms: Terms, by: studio_models.Person, now: datetime, why: str = ""
) -> models.Restriction | None:
    """Put terms down in a teacher's name and screen anew; they hold until a named person ends them.

    Own words that somebody has put into terms meanwhile: None, and nothing changes. Raises Refused `no_demand`,
    `unknown_demand`, `no_words`, or as `read_limits` does.
    """
    with transaction.atomic():
        client = locks.client(client_id)
        reading.allowed(client, by=by, now=now, why=why)
        _check(terms)
        form = screening.form_in_force(client) if terms.is_own_words else None
        words = _own_words(client, form) if terms.is_own_words else ""
        if form is not None and _is_read(client, words):
            return None
        row = models.Restriction(id=uuid4(), client=client, form=form, noted_by=by, noted_at=now)
        row.rests_on = RestsOn.OWN_WORD if terms.is_own_words else RestsOn.OBSERVATION
        kept = facts.Kept(terms.demands, terms.level, terms.side, "", words)
        facts.seal_terms(row, kept, client=client)
        row.save(force_insert=True)
        audit.wrote("restrict", row, by=by, now=now, client_key=client.pk)
        screening.screen_again(client, asked_for="restriction", by=by, now=now)
    return row


def end_restriction(
    restriction_id: UUID, *, by: studio_models.Person, now: datetime, why: str = ""
) -> models.Screening | None:
    """A named person says that a restriction is over; the client is screened anew without it.

    Ended already: None, and nothing changes. Raises Refused as `read_limits` does.
    """
    with transaction.atomic():
        client_id = models.Restriction.objects.values_list("client_id", flat=True).get(pk=restriction_id)
        client = locks.client(client_id)
        reading.allowed(client, by=by, now=now, why=why)
        row = client.restrictions.get(pk=restriction_id)
        if row.ended_at is not None:
            return None
        row.ended_at, row.ended_by = now, by
        row.save(update_fields=["ended_at", "ended_by"])
        audit.wrote("end_restriction", row, by=by, now=now, client_key=client.pk)
        return screening.screen_again(client, asked_for="restriction", by=by, now=now)


def _check(terms: Terms) -> None:
    if not terms.demands and not terms.is_own_words:
        says = "Which movements are meant? Choose at least one."
        raise Refused(Reason("no_demand", says, field="demands", allowed="one or more movements"))
    unknown = terms.demands - set(queries.rules_in_force().rulebook.demands)
    if unknown:
        says = "There is no such movement in the rules."
        raise Refused(Reason("unknown_demand", says, field="demands", allowed="movements of the list"))


def _own_words(client: models.Client, form: models.HealthForm | None) -> str:
    if form is None:
        says = "No signed form tells anything in own words."
        raise Refused(Reason("no_words", says, allowed="a form in force"))
    return facts.own_words(seals.opened(form, "sealed_answers", client=client))


def _is_read(client: models.Client, words: str) -> bool:
    rows = client.restrictions.exclude(form=None).exclude(noted_by=None)
    return any(facts.kept_terms(row, client=client).words == words for row in rows)
