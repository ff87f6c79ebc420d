"""The outbox: put a notice in the transaction of what it is about, send each at most once, take it back.

A worker claims due rows for two minutes, marks each as being sent before the mail server hears of it, and as sent
after the server's answer. A row found half-way past its lease is `unsure`: nothing sends it again but a person.
"""

import json
import os
import signal
import smtplib
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db import connection, transaction
from django.db.models import F, Q, QuerySet
from django.db.models.expressions import RawSQL

from studio import models, queries
from studio.actions import audit
from studio.later import after_commit
from studio.rules import Reason, Refused, notices

State = models.Notice.State
Clock = Callable[[], datetime]
SEND = "studio.tasks.send_due_notices"
UNSENT = (State.WAITING, State.CLAIMED)
UNSETTLED = (State.UNSURE, State.FAILED)

# Written by hand: a queryset that leaves out what is there already cannot say which rows it left out.
PUT = """
    INSERT INTO studio_notice (id, kind, contact_id, "values", about, rests_on, once, due_at, not_after, made_at,
                               state, attempts, trouble)
    VALUES {rows} ON CONFLICT DO NOTHING RETURNING id
"""
PUT_ROW = f"(%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, '{State.WAITING}', 0, '')"


@dataclass
class Counts:
    """What one round did. `away` says that the mail server did not answer and the round was broken off."""

    seen: int = 0
    sent: int = 0
    dropped: int = 0
    unsure: int = 0
    refused: int = 0
    taken: int = 0
    away: bool = False


def put(
    *,
    kind: str,
    contact: models.Contact,
    values: dict[str, str],
    about: str,
    due_at: datetime,
    now: datetime,
    once: str,
    not_after: datetime | None = None,
) -> models.Notice | None:
    """Lay a notice in the outbox, or None when one with the same `once` was ever laid there.

    `values` are plain strings for the words, without a word about health; `values["link"]` is forgotten once sent.
    `about` is the key `withdraw` takes it back by.
    """
    notice = written(
        kind=kind, contact=contact, values=values, about=about, due_at=due_at, now=now, once=once, not_after=not_after
    )
    return next(iter(put_all([notice], now=now)), None)


def written(
    *,
    kind: str,
    contact: models.Contact,
    values: dict[str, str],
    about: str,
    due_at: datetime,
    now: datetime,
    once: str,
    not_after: datetime | None = None,
    rests_on: str = "",
) -> models.Notice:
    """A notice as `put` takes it, not yet in the outbox. `rests_on` is the leave that `withdraw_leave` ends."""
    return models.Notice(
        id=uuid4(),
        kind=kind,
        contact=contact,
        values=values,
        about=about,
        rests_on=rests_on,
        once=once,
        due_at=due_at,
        not_after=not_after,
        made_at=now,
    )


def put_all(notices: list[models.Notice], *, now: datetime) -> list[models.Notice]:
    """Lay several in the outbox at once; those that are new there. One statement, none for none."""
    if not notices:
        return []
    rows = [
        (
            one.pk,
            one.kind,
            one.contact_id,
            json.dumps(one.values),
            one.about,
            one.rests_on,
            one.once,
            one.due_at,
            one.not_after,
            one.made_at,
        )
        for one in notices
    ]
    with connection.cursor() as cursor:
        cursor.execute(PUT.format(rows=", ".join([PUT_ROW] * len(rows))), [value for row in rows for value in row])
        kept = {key for (key,) in cursor.fetchall()}
    new = [notice for notice in notices if notice.pk in kept]
    if any(notice.due_at <= now for notice in new):
        after_commit(SEND)
    return new


def withdraw(*, about: str, now: datetime) -> int:
    """Take back every notice about this key that no mail server has heard of yet; how many there were."""
    return _take_back(Q(about=about))


def withdraw_leave(*, rests_on: str) -> int:
    """Take back every notice that may be sent by this leave only and that no mail server has heard of yet; how many."""
    return _take_back(Q(rests_on=rests_on))


def _take_back(which: Q) -> int:
    return models.Notice.objects.filter(which, state__in=UNSENT).update(
        state=State.WITHDRAWN, lease_until=None, trouble="", values=_without_link()
    )


def send_again(notice_id: UUID, *, by: models.Person, now: datetime) -> models.Notice:
    """Put a failed or unsure notice back into the outbox. Raises Refused when it is neither, or too late."""
    with transaction.atomic():
        notice = _unsettled(notice_id)
        if notice.not_after and now > notice.not_after:
            raise Refused(Reason("too_late", "Its time has passed: sending it now would only confuse."))
        notice.state, notice.attempts, notice.trouble, notice.due_at = State.WAITING, 0, "", now
        notice.save(update_fields=["state", "attempts", "trouble", "due_at"])
        audit.wrote("send again", notice, by=by, now=now)
        after_commit(SEND)
    return notice


def let_be(notice_id: UUID, *, by: models.Person, now: datetime) -> models.Notice:
    """Settle a failed or unsure notice without sending it. Raises Refused when it is neither."""
    with transaction.atomic():
        notice = _unsettled(notice_id)
        notice.state, notice.values = State.WITHDRAWN, {k: v for k, v in notice.values.items() if k != "link"}
        notice.save(update_fields=["state", "values"])
        audit.wrote("let be", notice, by=by, now=now)
    return notice


def _unsettled(notice_id: UUID) -> models.Notice:
    notice = models.Notice.objects.select_for_update().get(pk=notice_id)
    if notice.state not in UNSETTLED:
        raise Refused(Reason("settled", "Somebody has already settled this one.", allowed="a failed or unsure notice"))
    return notice


def send_due(*, now: datetime, limit: int = 50) -> Counts:
    """Send up to `limit` notices that are due. Any number of processes may do this at once, killed or not."""
    counts, clock = Counts(), _clock_from(now)
    claimed = _claim(limit, counts, now)
    _kill_at("claimed")
    for at, notice in enumerate(claimed):
        _send(notice, counts, clock)
        if counts.away:
            _give_back(claimed[at:])
            break
    return counts


def _clock_from(now: datetime) -> Clock:
    """`now`, going on: a round of slow answers must not promise a lease that has already run out."""
    start = time.monotonic()
    return lambda: now + timedelta(seconds=time.monotonic() - start)


def _claim(limit: int, counts: Counts, now: datetime) -> list[models.Notice]:
    due = Q(state=State.WAITING, due_at__lte=now) | Q(state__in=[State.CLAIMED, State.SENDING], lease_until__lt=now)
    with transaction.atomic():
        rows = list(
            models.Notice.objects.select_for_update(skip_locked=True, of=("self",))
            .select_related("contact")
            .filter(due)
            .order_by("due_at")[:limit]
        )
        unsure = [row for row in rows if row.state == State.SENDING]
        open_rows = [row for row in rows if row.state != State.SENDING and not _drop(row, now)]
        _rows(unsure).update(state=State.UNSURE, lease_until=None, trouble="The sender stopped half-way.")
        for row in open_rows:
            row.lease_until = now + notices.LEASE
        _rows(open_rows).update(state=State.CLAIMED, lease_until=now + notices.LEASE)
    counts.seen, counts.unsure = len(rows), len(unsure)
    counts.dropped = len(rows) - len(unsure) - len(open_rows)
    return open_rows


def _rows(rows: list[models.Notice]) -> "QuerySet[models.Notice]":
    return models.Notice.objects.filter(pk__in=[row.pk for row in rows])


def _drop(notice: models.Notice, now: datetime) -> bool:
    contact = notice.contact
    why = notices.why_dropped(
        not_after=notice.not_after,
        unsubscribed=contact.unsubscribed_at is not None,
        bounced=contact.bounced_at is not None,
        now=now,
    )
    if why:
        _rows([notice]).update(state=State.WITHDRAWN, lease_until=None, trouble=why.value, values=_without_link())
    return why is not None


def _send(notice: models.Notice, counts: Counts, clock: Clock) -> None:
    connection = get_connection()
    try:
        connection.open()
    except OSError:
        counts.away = True
        return
    try:
        _hand_over(notice, connection, counts, clock)
    finally:
        _close(connection)


def _close(connection: BaseEmailBackend) -> None:
    try:
        connection.close()
    except OSError:
        # The answer to the letter is in already; a server that hangs up on QUIT takes nothing back.
        return


def _hand_over(notice: models.Notice, connection: BaseEmailBackend, counts: Counts, clock: Clock) -> None:
    message = _message(notice, connection)
    if not _mark_sending(notice, clock()):
        counts.taken += 1
        return
    _kill_at("sending")
    try:
        message.send()
    except (smtplib.SMTPResponseException, smtplib.SMTPRecipientsRefused, smtplib.SMTPNotSupportedError) as error:
        counts.refused += 1
        _after_refusal(notice, _answer(error), clock())
    except ValueError as error:
        counts.refused += 1
        _settle(notice, state=State.FAILED, trouble=f"This address or text cannot be written: {error}"[:200])
    except OSError:
        counts.unsure += 1
        _settle(notice, state=State.UNSURE, trouble="The connection broke before the mail server answered.")
    else:
        _kill_at("answered")
        counts.sent += 1
        _settle(notice, state=State.SENT, sent_at=clock(), trouble="", values=_without_link())


def _mark_sending(notice: models.Notice, now: datetime) -> bool:
    """Whether the row is still ours: nobody withdrew it and no other worker took it after our lease."""
    still_ours = models.Notice.objects.filter(pk=notice.pk, state=State.CLAIMED, lease_until=notice.lease_until)
    in_time = still_ours.filter(Q(not_after=None) | Q(not_after__gte=now))
    if in_time.update(state=State.SENDING, lease_until=now + notices.LEASE, attempts=F("attempts") + 1):
        notice.attempts += 1
        return True
    return False


def _after_refusal(notice: models.Notice, answer: str, now: datetime) -> None:
    trouble = f"The mail server refused it: {answer}"[:200]
    if again := notices.next_try(notice.attempts, now=now):
        _settle(notice, state=State.WAITING, due_at=again, trouble=trouble)
    else:
        _settle(notice, state=State.FAILED, trouble=trouble)


def _settle(notice: models.Notice, **fields: object) -> None:
    # Unsure too: another worker may have found us slow, but now the answer is known.
    models.Notice.objects.filter(pk=notice.pk, state__in=[State.SENDING, State.UNSURE]).update(
        lease_until=None, **fields
    )


def _give_back(claimed: list[models.Notice]) -> None:
    """The mail server is away: nothing was tried, so no attempt is counted and the next round begins anew."""
    for notice in claimed:
        models.Notice.objects.filter(pk=notice.pk, state=State.CLAIMED, lease_until=notice.lease_until).update(
            state=State.WAITING, lease_until=None, trouble="The mail server did not answer."
        )


def _answer(error: smtplib.SMTPException) -> str:
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return _spoken(*next(iter(error.recipients.values())))
    if isinstance(error, smtplib.SMTPResponseException):
        return _spoken(error.smtp_code, error.smtp_error)
    return str(error)


def _spoken(code: int, text: bytes | str) -> str:
    return f"{code} {text.decode('utf-8', 'replace') if isinstance(text, bytes) else text}"


def _message(notice: models.Notice, connection: BaseEmailBackend) -> EmailMessage:
    words = queries.words_in_force(notice.kind)
    house = models.Business.objects.values_list("name", flat=True).first() or settings.PRODUCT_NAME
    letter = notices.letter(words, {"house": house, **notice.values})
    return EmailMessage(
        letter.subject,
        letter.body,
        to=[notice.contact.address],
        connection=connection,
        # The same row always carries the same id, so that a mailbox can see a second copy for what it is.
        headers={"Message-ID": f"<{notice.pk}@{settings.DEFAULT_FROM_EMAIL.rpartition('@')[2].strip('>')}>"},
    )


def _without_link() -> RawSQL:
    return RawSQL('"values" - %s', ["link"])


def _kill_at(step: str) -> None:
    # The tests prove with a real kill at every step that no step loses or doubles a letter.
    if os.environ.get("NOTICE_KILL_AT") == step:
        os.kill(os.getpid(), signal.SIGKILL)
