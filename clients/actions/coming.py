"""What the days alone will change for a client, listed a month ahead and taken off the list when it is over."""

from datetime import date, datetime, timedelta
from uuid import uuid4

from clients import models
from clients.actions import seals
from clients.rules.adjusting import Choices
from clients.rules.coming import A_MONTH, ComingChange, ComingKind, coming_changes
from clients.rules.facts import ScreeningFacts
from clients.rules.limits import proposals
from clients.rules.reference import Rulebook

# Beyond a form's year nothing is known to come.
FURTHEST = 400


def list_ahead(
    client: models.Client,
    facts: ScreeningFacts,
    *,
    rulebook: Rulebook,
    choices: Choices,
    on: date,
    now: datetime,
) -> date | None:
    """Keep the list of a client's changes: those of the next month, and each window that waits for somebody's name.

    The next day on which there is another one to tell of, if any. Safe to repeat; the client's row is locked by the
    caller.
    """
    changes = coming_changes(facts, rulebook, on=on, within_days=FURTHEST, choices=choices)
    month = on + timedelta(days=A_MONTH)
    near = [one for one in changes if one.day <= month]
    near += _waiting(facts, rulebook, on)
    wanted = {(seals.mark(one.key, client=client), one.day): one for one in near}
    known = {(row.mark, row.day): row.pk for row in client.coming.filter(gone_at=None)}
    if gone := [known[one] for one in set(known) - set(wanted)]:
        models.Coming.objects.filter(pk__in=gone).update(gone_at=now)
    new = [_row(client, mark, change, now) for (mark, day), change in wanted.items() if (mark, day) not in known]
    models.Coming.objects.bulk_create(new)
    later = min((one.day for one in changes if one.day > month), default=None)
    return later - timedelta(days=A_MONTH) if later else None


def _waiting(facts: ScreeningFacts, rulebook: Rulebook, on: date) -> list[ComingChange]:
    """The windows that have ended and wait for a name."""
    return [
        ComingChange(ComingKind.WINDOW_ENDS, ended.ended_on + timedelta(days=1), ended.says, f"ended:{one}")
        for one in facts.conditions
        for ended in proposals([one], rulebook, on=on)
    ]


def _row(client: models.Client, mark: str, change: ComingChange, now: datetime) -> models.Coming:
    row = models.Coming(id=uuid4(), client=client, kind=change.kind.value, day=change.day, mark=mark, found_at=now)
    row.sealed_says = seals.sealed(change.says, row=row, column="sealed_says", client=client)
    return row
