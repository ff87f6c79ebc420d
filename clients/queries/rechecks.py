"""Whether a re-check will do for a client, or the whole form comes first."""

from datetime import date
from uuid import UUID

from clients import models
from clients.queries.days import day_of
from clients.queries.open_points import choices
from clients.queries.reference import rules_in_force
from clients.rules import adjusting, asking
from clients.rules import form as rules

SIGNED = models.HealthForm.State.SIGNED


def why_whole(client_id: UUID, *, on: date) -> str:
    """Why a re-check will not do on a local day, in words for the studio; empty when it will.

    No answer is opened, and nothing of what the rules found is told. Raises Refused `no_rules`.
    """
    client = models.Client.objects.select_related("home").get(pk=client_id)
    open_one = client.screenings.filter(replaced_at=None).select_related("form").first()
    screening = open_one if open_one is not None and open_one.form.state == SIGNED else None
    if screening is None:
        return rules.why_whole(rules.Recheckable(None, None, False), on=on, asks_again="")
    form = screening.form
    whole_on = whole_day(client, form)
    asks = asking.asks_again(
        last_visit=client.last_visit,
        told_on=day_of(form.signed_at, client) if form.signed_at else whole_on,
        on=on,
        intervals=adjusting.adjusted(rules_in_force().rulebook, choices()).intervals,
        whole_on=whole_on,
    )
    is_asked_in_full = screening.asks_again == models.forms.FormKind.FULL
    facts = rules.Recheckable(screening.valid_until, whole_on, is_asked_in_full)
    return rules.why_whole(facts, on=on, asks_again=asks)


def whole_day(client: models.Client, form: models.HealthForm) -> date:
    """The local day of the whole form that a version is or confirms."""
    return form.whole_on or day_of(form.signed_at or form.saved_at, client)
