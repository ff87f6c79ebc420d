"""Shared items of a studio and the quarter hours they are held for."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from studio.rules import Span

QUARTER = timedelta(minutes=15)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class ItemKind(StrEnum):
    """What several machines share; the words are those of a set-up's keys."""

    BOX = "box"
    POLE = "pole"
    TOWER_BAR = "tower_bar"
    CHAIR = "chair"

    @property
    def words(self) -> str:
        return self.value.replace("_", " ")


class HoldSource(StrEnum):
    """Who asked for a hold: a hand at the desk, or the times of a program."""

    HAND = "hand"
    PROGRAM = "program"


def whole_quarters(span: Span) -> Span:
    """The quarter hours that the span touches; instants in UTC, for every zone's wall clock has the same quarters."""
    start = span.start.astimezone(UTC)
    begin = start - (start - EPOCH) % QUARTER
    over = (span.end.astimezone(UTC) - EPOCH) % QUARTER
    return Span(begin, span.end.astimezone(UTC) + (QUARTER - over if over else timedelta(0)))


def quarters_of(span: Span) -> tuple[Span, ...]:
    """The quarter hours that the span touches, one by one."""
    whole = whole_quarters(span)
    count = (whole.end - whole.start) // QUARTER
    return tuple(Span(whole.start + QUARTER * at, whole.start + QUARTER * (at + 1)) for at in range(count))


def moved(span: Span, *, lesson: Span, to: Span) -> Span | None:
    """The hold as far from the new start as it was from the old one, on whole quarters and inside the lesson's own.

    None when the lesson has become too short for it.
    """
    reach = whole_quarters(to)
    shifted = Span(span.start - lesson.start + to.start, span.end - lesson.start + to.start)
    wanted = whole_quarters(shifted)
    begin, end = max(wanted.start, reach.start), min(wanted.end, reach.end)
    return Span(begin, end) if begin < end else None


def first_free(wanted: Span, items: Iterable[tuple[int, Iterable[Span]]]) -> int | None:
    """The first of the items, each with the spans it is held, that is free over the wanted one."""
    for key, held in items:
        if not any(wanted.start < span.end and span.start < wanted.end for span in held):
            return key
    return None
