"""How the rows of two cards come to stand on one: numbered anew, the stricter kept, sealed for the other's key.

Each runs inside a merge, with both clients locked. It answers the rows that stay with the old card, because the kept
one has its like.
"""

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import F

from clients import models, queries
from clients.actions import facts, screening, seals
from clients.queries import merging as looked_up
from clients.rules import merging as rules
from clients.rules.outcomes import OUTCOMES, Outcome
from studio import models as studio_models

# Far above any real number: versions pass through here, so that no two are the same on the way.
ASIDE = 100_000
FormState = models.HealthForm.State
Stays = set[tuple[str, str]]


def forms(kept: models.Client, gone: models.Client) -> Stays:
    """One line of versions; the newest signed one is in force. Numbers are aside until `number_forms`."""
    rows = [*kept.health_forms.all(), *gone.health_forms.all()]
    line = _line(rows, kept)
    for row in rows:
        if row.state != line.states.get(str(row.pk), row.state):
            models.HealthForm.objects.filter(pk=row.pk).update(state=line.states[str(row.pk)])
    kept.health_forms.update(version=F("version") + ASIDE)
    going = gone.health_forms.exclude(pk=line.stays) if line.stays else gone.health_forms.all()
    going.update(version=F("version") + 2 * ASIDE)
    stays = {(models.HealthForm._meta.label_lower, line.stays)} if line.stays else set()
    return stays


def _line(rows: list[models.HealthForm], kept: models.Client) -> rules.Forms:
    return rules.forms_of_one(
        [rules.Version(str(one.pk), one.client_id == kept.pk, one.state, one.signed_at, one.saved_at) for one in rows]
    )


def number_forms(kept: models.Client) -> None:
    """The versions of the kept card in one line, from one up."""
    line = _line(list(kept.health_forms.all()), kept)
    for key, number in line.numbers.items():
        kept.health_forms.filter(pk=key).update(version=number)


def screenings(kept: models.Client, gone: models.Client, *, now: datetime) -> list[Outcome]:
    """What stands open on either card, closed; the outcomes that stood.

    Without a form in force the strictest of those that rest on a begun one stays, so that nothing told is forgotten.
    """
    rows = list(models.Screening.objects.filter(client__in=[kept, gone], replaced_at=None).select_related("form"))
    rows.sort(key=lambda one: OUTCOMES.index(Outcome(one.outcome)))
    is_signed = models.HealthForm.objects.filter(client__in=[kept, gone], state=FormState.SIGNED).exists()
    begun = [] if is_signed else [row for row in rows if row.form.state == FormState.DRAFT]
    for row in (one for one in rows if one not in begun[:1]):
        models.Screening.objects.filter(pk=row.pk).update(replaced_at=now)
    return [Outcome(row.outcome) for row in rows]


def screen(
    kept: models.Client, stood: Collection[Outcome], *, by: studio_models.Person | None, now: datetime
) -> models.Screening | None:
    """Ask the rules about all that both cards know. Where one card stood stricter, the form is asked for again."""
    found = screening.screen_again(kept, asked_for="merged", by=by, now=now)
    if found is None:
        return None
    if any(OUTCOMES.index(one) < OUTCOMES.index(Outcome(found.outcome)) for one in stood):
        found.asks_again, found.asks_again_why = "full", "merged"
        found.save(update_fields=["asks_again", "asks_again_why"])
    return found


def consents(
    kept: models.Client,
    gone: models.Client,
    *,
    stay_open: Collection[str],
    by: studio_models.Person | None,
    now: datetime,
) -> None:
    """Open on both: the kept card's row. Open on one: closed, unless its kind is in `stay_open`."""
    mine = {row.kind: row for row in kept.consents.filter(withdrawn_at=None)}
    theirs = {row.kind: row for row in gone.consents.filter(withdrawn_at=None)}
    for kind in mine.keys() | theirs.keys():
        if kind in mine and kind in theirs:
            ends = theirs[kind]
        elif kind in stay_open:
            continue
        else:
            ends = mine.get(kind) or theirs[kind]
        models.Consent.objects.filter(pk=ends.pk).update(withdrawn_at=now, withdrawal_noted_by=by)


def ceilings(kept: models.Client, gone: models.Client) -> Stays:
    """The lower level holds, with the name and day it was signed by."""
    stays: Stays = set()
    for theirs in gone.ceilings.all():
        mine = kept.ceilings.filter(apparatus_kind=theirs.apparatus_kind).first()
        if mine is None:
            continue
        stays.add((theirs._meta.label_lower, str(theirs.pk)))
        if theirs.level < mine.level:
            kept.ceilings.filter(pk=mine.pk).update(
                level=theirs.level, signed_by=theirs.signed_by_id, signed_on=theirs.signed_on
            )
    return stays


def conditions(kept: models.Client, gone: models.Client) -> None:
    """Marks of the other card's conditions, made anew with the kept one's key. Told on both, both stay in force."""
    active = set(kept.conditions.filter(state="active").values_list("mark", flat=True))
    for row in gone.conditions.all():
        fact = facts.condition_of(row, client=gone)
        words = f"{fact.condition_id}|{fact.side or ''}"
        mark = seals.mark(words, client=kept)
        if mark in active and row.state == "active":
            mark = seals.mark(f"{words}|{row.pk}", client=kept)
        gone.conditions.filter(pk=row.pk).update(mark=mark)


def letter_requests(kept: models.Client, gone: models.Client, *, now: datetime) -> None:
    """One letter is waited for, since the earlier day, asking what either did."""
    mine = kept.letter_requests.filter(closed_at=None).first()
    theirs = gone.letter_requests.filter(closed_at=None).first()
    if mine is None or theirs is None:
        return
    asks = seals.opened(mine, "sealed_asks", client=kept)
    asks += [one for one in seals.opened(theirs, "sealed_asks", client=gone) if one not in asks]
    mine.sealed_asks = seals.sealed(asks, row=mine, column="sealed_asks", client=kept)
    mine.opened_at = min(mine.opened_at, theirs.opened_at)
    mine.save(update_fields=["sealed_asks", "opened_at"])
    gone.letter_requests.filter(pk=theirs.pk).update(closed_at=now, closed_why="merged")


def coming(gone: models.Client, *, now: datetime) -> None:
    """What was found ahead for the other card is found anew for the kept one."""
    gone.coming.filter(gone_at=None).update(gone_at=now)


def reviews(kept: models.Client, gone: models.Client) -> Stays:
    """One of each kind, due at the earlier day and after the fewer lessons; both cards' visits count together."""
    stays: Stays = set()
    for theirs in gone.reviews.filter(done_at=None):
        mine = kept.reviews.filter(done_at=None, kind=theirs.kind).first()
        together = {"visits_then": theirs.visits_then + kept.visits, "due_visits": theirs.due_visits + kept.visits}
        if mine is None:
            gone.reviews.filter(pk=theirs.pk).update(**together)
            continue
        stays.add((theirs._meta.label_lower, str(theirs.pk)))
        kept.reviews.filter(pk=mine.pk).update(
            due_on=min(mine.due_on, theirs.due_on),
            visits_then=mine.visits_then + gone.visits,
            due_visits=min(mine.due_visits + gone.visits, together["due_visits"]),
        )
    if gone.visits:
        others = kept.reviews.filter(done_at=None)
        untouched = others.exclude(kind__in=gone.reviews.filter(done_at=None).values("kind"))
        untouched.update(visits_then=F("visits_then") + gone.visits, due_visits=F("due_visits") + gone.visits)
    return stays


def notices(kept: models.Client, gone: models.Client) -> None:
    """Reminders go where the kept card is written to, or nowhere when messages are not agreed to."""
    waiting = studio_models.Notice.objects.filter(state__in=["waiting", "claimed"])
    leave = queries.leave_for_messages(kept.pk)
    theirs = waiting.filter(rests_on=queries.leave_for_messages(gone.pk))
    if kept.contact_id is None or queries.open_consent(kept.pk, models.Consent.Kind.MESSAGES) is None:
        withdrawn = {"state": studio_models.Notice.State.WITHDRAWN, "lease_until": None}
        theirs.update(**withdrawn)
        waiting.filter(rests_on=leave).update(**withdrawn)
    else:
        theirs.update(rests_on=leave, contact=kept.contact_id)
        waiting.filter(rests_on=leave).update(contact=kept.contact_id)


def moved(pointer: looked_up.Pointer, *, was: UUID, becomes: UUID, stays: Stays) -> list[str]:
    """Give the rows of one table to another client; the keys that went. A row whose like is there stays."""
    label = pointer.model._meta.label_lower
    keys = [key for key in pointer.rows(was).values_list("pk", flat=True) if (label, str(key)) not in stays]
    rows = pointer.model._default_manager
    try:
        with transaction.atomic():
            rows.filter(pk__in=keys).update(**{pointer.field: becomes})
            return [str(key) for key in keys]
    except IntegrityError:
        return [str(key) for key in keys if _moved_alone(pointer, key, becomes)]


def _moved_alone(pointer: looked_up.Pointer, key: object, becomes: UUID) -> bool:
    try:
        with transaction.atomic():
            pointer.model._default_manager.filter(pk=key).update(**{pointer.field: becomes})
    except IntegrityError:
        return False
    return True


def seal_anew(client: models.Client, *, was: models.Client) -> set[tuple[str, str, str]]:
    """Seal for `client` what of hers is still sealed with the key of `was`; the cells (table, key, column)."""
    cells = set()
    for table in looked_up.sealed_columns():
        for row in table.rows(client.pk):
            for column in table.columns:
                blob = getattr(row, column)
                if blob is None or not seals.is_sealed_for(was, blob):
                    continue
                fresh = seals.sealed_anew(row, column, was=was, becomes=client)
                table.model._default_manager.filter(pk=row.pk).update(**{column: fresh})
                cells.add((table.model._meta.label_lower, str(row.pk), column))
    return cells
