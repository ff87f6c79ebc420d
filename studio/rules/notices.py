"""Decisions about a notice: may it leave, with which words, and when it is tried again."""

import re
from collections.abc import Container, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from studio.rules.notice_texts import DEFAULT_WORDS, PLACEHOLDERS, Words
from studio.rules.refusals import Reason

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


def filled(text: str, values: Mapping[str, str], *, knows: Container[str] = PLACEHOLDERS) -> str:
    """`text` with its `{placeholders}`. A known one without a value is left out, any other brackets stay as written."""

    def value(found: re.Match[str]) -> str:
        name = found[1]
        return str(values[name]) if name in values else "" if name in knows else found[0]

    return PLACEHOLDER.sub(value, text)


def letter(words: Words, values: Mapping[str, str]) -> Letter:
    """The words of a notice filled in. The subject becomes one line, whatever a value holds."""
    subject = " ".join(filled(words.subject, values, knows=words.knows).split())
    return Letter(subject[:200], filled(words.body, values, knows=words.knows))


def example(words: Words, *, house: str) -> Letter:
    """How the words read in a letter to somebody invented."""
    values = {name: PLACEHOLDERS[name].example for name in words.knows}
    return letter(words, values | ({"house": house} if house else {}))


def strangers(words: Words) -> list[str]:
    """Placeholders that get no value in this kind of letter, in their order, each once."""
    found = PLACEHOLDER.findall(f"{words.subject} {words.body}")
    return [name for name in dict.fromkeys(found) if name not in words.knows]


def words_reasons(words: Words) -> list[Reason]:
    """Why these words cannot be kept: nothing to read, or no link in a letter that is sent for its link."""
    reasons = []
    if not words.subject.strip():
        reasons.append(Reason("no_subject", "A letter needs a subject.", "subject"))
    if not words.body.strip():
        reasons.append(Reason("no_body", "A letter needs words.", "body"))
    elif "link" in words.knows and "{link}" not in words.body:
        says = "Put {link} where the private address should stand: without it the letter is of no use."
        reasons.append(Reason("no_link", says, "body", "{link}"))
    return reasons


def default_words(kind: str) -> Words:
    """The house's words for `kind`; a kind it does not know gets a plain letter with its link."""
    return DEFAULT_WORDS.get(kind) or Words(kind.replace("_", " "), "A note from {house}", "Hello {name},\n\n{link}\n")
