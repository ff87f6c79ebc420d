"""Decisions about a notice: may it leave, with which words, and when it is tried again."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from studio.rules.notice_texts import DEFAULT_WORDS, Words

# Common practice, no source: long enough for one slow mail server, short enough that a dead worker costs little.
LEASE = timedelta(minutes=2)
BACKOFF = (timedelta(minutes=1), timedelta(minutes=5), timedelta(minutes=15), timedelta(minutes=60))
MAX_ATTEMPTS = len(BACKOFF) + 1
PLACEHOLDER = re.compile(r"\{(\w+)\}")


class Drop(StrEnum):
    """Why a notice that is due does not leave; the value is what the office reads."""

    TOO_LATE = "its time had passed"
    UNSUBSCRIBED = "this address wants no more letters"
    BOUNCED = "letters to this address came back"


@dataclass(frozen=True)
class Letter:
    """A notice in words: a subject of one line and a body."""

    subject: str
    body: str


def why_dropped(*, not_after: datetime | None, unsubscribed: bool, bounced: bool, now: datetime) -> Drop | None:
    """The reason to let a due notice go unsent, or None when it may leave."""
    if not_after is not None and now > not_after:
        return Drop.TOO_LATE
    if unsubscribed:
        return Drop.UNSUBSCRIBED
    return Drop.BOUNCED if bounced else None


def next_try(attempts: int, *, now: datetime) -> datetime | None:
    """When a refused notice is tried again after `attempts` tries, or None when it has failed."""
    return now + BACKOFF[attempts - 1] if attempts < MAX_ATTEMPTS else None


def filled(text: str, values: Mapping[str, str]) -> str:
    """`text` with its `{placeholders}`; one that nobody gave a value for is left out and never raises."""
    return PLACEHOLDER.sub(lambda found: str(values.get(found[1], "")), text)


def letter(words: Words, values: Mapping[str, str]) -> Letter:
    """The words of a notice filled in. The subject becomes one line, whatever a value holds."""
    subject = " ".join(filled(words.subject, values).split())
    return Letter(subject[:200], filled(words.body, values))


def default_words(kind: str) -> Words:
    """The house's words for `kind`; a kind it does not know gets a plain letter with its link."""
    return DEFAULT_WORDS.get(kind) or Words(kind.replace("_", " "), "A note from {house}", "Hello {name},\n\n{link}\n")
