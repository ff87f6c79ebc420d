"""The form is asked for again: because something happened, or because somebody was away."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients import models, queries
from clients.actions import links, locks, screening
from clients.actions.screening import Asked
from clients.rules import adjusting, triggers
from clients.rules import asking as rules
from clients.rules.asking import FULL, QUICK
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused, Role

# All that is kept in plain letters of why it is asked: an absence is known to the desk anyway.
ABSENCE, EVENT = "absence", "event"


def ask_form_again(
    client_id: UUID, *, why: str, kind: str, by: studio_models.Person, now: datetime, is_sent: bool = False
) -> models.Screening:
    """Nobody is booked on the form in force until this one is filled in; its limits stay meanwhile.

    `why` is one of triggers.TRIGGERS and is kept sealed, `kind` "quick" or "full"; after an event only the whole form
    will do. `is_sent` sends the private link too. A whole form that is asked for already stays so. Raises Refused
    `not_open`, `unknown_trigger`, `whole_form`, `no_form`, `no_address`.
    """
    if not by.has_role(Role.INSTRUCTOR, Role.OWNER):
        raise Refused(Reason("not_open", "Those who teach this client ask for the form again."))
    _check(why, kind)
    with transaction.atomic():
        client = locks.client(client_id)
        standing = client.screenings.filter(replaced_at=None).first()
        if standing is None:
            raise Refused(Reason("no_form", "No form is in force: it is missing anyway.", allowed="a signed form"))
        if not (standing.asks_again == FULL and kind == QUICK):
            asked = Asked(kind, ABSENCE if why == ABSENCE else EVENT, "" if why == ABSENCE else why)
            screening.ask_again(standing, asked, client=client)
            audit.wrote("ask_form_again", standing, by=by, now=now, client_key=client.pk, detail={"kind": kind})
        if is_sent:
            links.send_form_link(client_id, by=by, now=now, kind=standing.asks_again)
    return standing


def ask_after_absence(client: models.Client, standing: models.Screening, *, now: datetime, actor: str) -> bool:
    """Ask whoever was away for long before she is booked again; whether anything new was asked.

    The client's row is locked by the caller.
    """
    rulebook = adjusting.adjusted(queries.rules_in_force().rulebook, queries.choices())
    on = queries.day_of(now, client)
    form = standing.form
    if form.signed_at is None or standing.asks_again == FULL:
        return False
    told_on = queries.day_of(form.signed_at, client)
    kind = rules.asks_again(
        last_visit=client.last_visit, told_on=told_on, on=on, intervals=rulebook.intervals, whole_on=form.whole_on
    )
    if kind in ("", standing.asks_again):
        return False
    before = screening.asked_of(standing, client=client)
    screening.ask_again(standing, Asked(kind, before.why or ABSENCE, before.event), client=client)
    audit.wrote("ask_form_again", standing, by=None, now=now, actor=actor, client_key=client.pk, detail={"kind": kind})
    return True


def _check(why: str, kind: str) -> None:
    if why not in triggers.TRIGGERS:
        allowed = ", ".join(triggers.TRIGGERS.values())
        raise Refused(Reason("unknown_trigger", "What has happened? Choose from the list.", "why", allowed))
    if kind not in triggers.KINDS:
        allowed = ", ".join(triggers.KINDS.values())
        raise Refused(Reason("unknown_kind", "Which form is it?", "kind", allowed))
    if kind == QUICK and why in triggers.EVENTS:
        says = f"After {triggers.EVENTS[why]} the whole form is asked."
        raise Refused(Reason("whole_form", says, "kind", triggers.KINDS[FULL]))
