"""What the outbox holds, for the people who settle what went wrong in it."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import QuerySet

from studio import models
from studio.rules import notices
from studio.rules.notice_texts import DEFAULT_WORDS, Words

State = models.Notice.State
RECENT = timedelta(days=14)
SHOWN = 100


@dataclass(frozen=True)
class NoticeRow:
    """One notice without its words: `mark` is a name of the look's marks, `when` an instant in UTC."""

    id: UUID
    called: str
    address: str
    mark: str
    word: str
    when: datetime
    trouble: str
    again: bool


@dataclass(frozen=True)
class Outbox:
    """Notices that failed or are unsure, those that wait, and the latest that were sent or taken back."""

    troubles: list[NoticeRow]
    waiting: list[NoticeRow]
    past: list[NoticeRow]


WORDS = {
    State.WAITING: ("waiting", "waiting"),
    State.CLAIMED: ("waiting", "leaving"),
    State.SENDING: ("waiting", "leaving"),
    State.SENT: ("sent", "sent"),
    State.UNSURE: ("wrong", "perhaps sent"),
    State.FAILED: ("wrong", "not sent"),
    State.WITHDRAWN: ("cancelled", "taken back"),
}


def outbox(*, now: datetime) -> Outbox:
    """The outbox in three queries, at most 100 rows of each part; the past reaches back 14 days."""
    rows = models.Notice.objects.select_related("contact")
    settled = rows.filter(state__in=[State.SENT, State.WITHDRAWN], due_at__range=(now - RECENT, now + RECENT))
    return Outbox(
        troubles=_seen(rows.filter(state__in=[State.UNSURE, State.FAILED]).order_by("due_at"), now),
        waiting=_seen(rows.filter(state__in=[State.WAITING, State.CLAIMED, State.SENDING]).order_by("due_at"), now),
        past=_seen(settled.order_by("-due_at"), now),
    )


def troubles_count() -> int:
    """How many notices wait for a person to settle them."""
    return models.Notice.objects.filter(state__in=[State.UNSURE, State.FAILED]).count()


@dataclass(frozen=True)
class WordsRow:
    """A kind of letter in the list of the owner's words: `own` once she has written them herself."""

    kind: str
    called: str
    subject: str
    own: bool


def words() -> list[WordsRow]:
    """Every kind of letter with the subject in force; one query."""
    own = dict(models.NoticeText.objects.values_list("pk", "subject"))
    return [
        WordsRow(kind, default.called, own.get(kind, default.subject), kind in own)
        for kind, default in DEFAULT_WORDS.items()
    ]


def words_row(kind: str) -> WordsRow:
    """One kind of letter. Raises NoticeText.DoesNotExist for a kind the house does not send."""
    for row in words():
        if row.kind == kind:
            return row
    raise models.NoticeText.DoesNotExist(f"no letters of kind {kind}")


def words_in_force(kind: str) -> Words:
    """The owner's words for a kind of letter, else the house's usual ones."""
    own = models.NoticeText.objects.filter(pk=kind).first()
    usual = notices.default_words(kind)
    return replace(usual, subject=own.subject, body=own.body) if own else usual


def _seen(rows: "QuerySet[models.Notice]", now: datetime) -> list[NoticeRow]:
    return [_row(row, now) for row in rows[:SHOWN]]


def _row(notice: models.Notice, now: datetime) -> NoticeRow:
    mark, word = WORDS[State(notice.state)]
    return NoticeRow(
        id=notice.pk,
        called=notices.default_words(notice.kind).called,
        address=notice.contact.address,
        mark=mark,
        word=word,
        when=notice.sent_at or notice.due_at,
        trouble=notice.trouble,
        again=notice.not_after is None or now <= notice.not_after,
    )
