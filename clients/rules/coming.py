"""What the days alone will change for a client: a limit begins, a window ends, a letter or a form runs out."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from clients.rules import adjusting, clearance, gates, letters
from clients.rules.adjusting import AS_STATED, Choices
from clients.rules.days import day_in_words
from clients.rules.facts import ActiveCondition, LetterTerms, ScreeningFacts
from clients.rules.limits import LimitFound, merged_limits, window_closes
from clients.rules.outcomes import LEVELS
from clients.rules.reference import Condition, Rulebook

NEXT_DAY = timedelta(days=1)
A_MONTH = 30


class ComingKind(StrEnum):
    BEGINS = "begins"
    WINDOW_ENDS = "window_ends"
    LETTER_ENDS = "letter_ends"
    FORM_ENDS = "form_ends"


@dataclass(frozen=True)
class ComingChange:
    """A change that needs nobody's word, or the day on which somebody's word is asked for.

    `day` is the first day on which it is otherwise: of a window, a letter or a form the day after its last. `says` is
    for the teacher. `key` tells one change from another, and stays the same while the day of the change stays.
    """

    kind: ComingKind
    day: date
    says: str
    key: str


def coming_changes(
    facts: ScreeningFacts,
    rulebook: Rulebook,
    *,
    on: date,
    within_days: int = A_MONTH,
    choices: Choices = AS_STATED,
) -> tuple[ComingChange, ...]:
    """The changes of the days after `on`, up to `within_days` ahead, that day included, the next first."""
    book, last = adjusting.adjusted(rulebook, choices), on + timedelta(days=within_days)
    found = [
        *_stages(facts, book, on),
        *_pregnancy_gates(facts, book, on),
        *_windows(facts, book),
        *_letters(facts, book, on),
        *_form(facts, book),
    ]
    ahead = {one for one in found if on < one.day <= last}
    return tuple(sorted(ahead, key=lambda one: (one.day, one.kind, one.key)))


def _stages(facts: ScreeningFacts, book: Rulebook, on: date) -> Iterator[ComingChange]:
    """The stages of a pregnancy that are still to come."""
    if facts.pregnancy is None:
        return
    now = gates.pregnancy_condition(facts.pregnancy, book, on=on)
    for stage in book.stages:
        begins = facts.pregnancy.day_of(stage.window_days_from) if stage.window_days_from else None
        if begins is not None and begins > on:
            then = f"its limits begin on {day_in_words(begins)}{_stricter_then(now, stage, book, on=begins)}"
            yield ComingChange(ComingKind.BEGINS, begins, f"{stage.name}: {then}.", f"begins:{stage.id}")


def _stricter_then(now: Condition, then: Condition, book: Rulebook, *, on: date) -> str:
    """What the later stage limits more than this one does, in words."""

    def limits(stage: Condition) -> tuple[LimitFound, ...]:
        return merged_limits([ActiveCondition(stage.id)], book, on=on)

    known = {limit.demand: LEVELS.index(limit.level) for limit in limits(now)}
    more = [one for one in limits(then) if LEVELS.index(one.level) < known.get(one.demand, len(LEVELS))]
    words = ", ".join(f"{book.demands[one.demand].name} ({one.level.value})" for one in more)
    return f"; more limited than now: {words}" if words else ""


def _pregnancy_gates(facts: ScreeningFacts, book: Rulebook, on: date) -> Iterator[ComingChange]:
    """The statements told of a pregnancy that count only from a later week."""
    if facts.pregnancy is None:
        return
    for gate_id in facts.pregnancy.gate_ids:
        gate = book.pregnancy_gates[gate_id]
        begins = facts.pregnancy.day_of(gate.from_gestation_day) if gate.is_on and gate.from_gestation_day else None
        if begins is not None and begins > on:
            says = f"{gate.statement}: from {day_in_words(begins)} {gate.action}."
            yield ComingChange(ComingKind.BEGINS, begins, says, f"begins:{gate.id}")


def _windows(facts: ScreeningFacts, book: Rulebook) -> Iterator[ComingChange]:
    for one in facts.conditions:
        condition = book.conditions[one.condition_id]
        closes = window_closes(condition, one.since)
        if closes is None or one.is_held:
            continue
        follower = book.conditions.get(condition.next_condition_id)
        then = f"{follower.name} is proposed" if follower else "its end is proposed"
        ends = f"{condition.name}: the last day of its window is {day_in_words(closes)}; then {then}"
        says = f"{ends}. Its limits stay until a named person confirms."
        key = ":".join(("window_ends", one.condition_id, *([one.side.value] if one.side else [])))
        yield ComingChange(ComingKind.WINDOW_ENDS, closes + NEXT_DAY, says, key)


def _letters(facts: ScreeningFacts, book: Rulebook, on: date) -> Iterator[ComingChange]:
    for letter in facts.letters:
        if not letter.holds(on) or not (letter.answers or letter.allows):
            continue
        last = letter.holds_until
        says = f"A clinician's letter holds until {day_in_words(last)}; then what it answered or allowed counts again."
        yield ComingChange(ComingKind.LETTER_ENDS, last + NEXT_DAY, says, f"letter_ends:{letter.letter_id}")
        yield from _vigorous(letter, book)


def _vigorous(letter: LetterTerms, book: Rulebook) -> Iterator[ComingChange]:
    ends = letters.vigorous_ends(letter, book)
    if ends is not None and ends <= letter.holds_until:
        says = f"A clinician's letter opens hard work until {day_in_words(ends - NEXT_DAY)}; then light to moderate."
        yield ComingChange(ComingKind.LETTER_ENDS, ends, says, f"vigorous_ends:{letter.letter_id}")


def _form(facts: ScreeningFacts, book: Rulebook) -> Iterator[ComingChange]:
    last = clearance.valid_until(facts, book)
    says = f"The health form holds until {day_in_words(last)}; then it is filled in again."
    yield ComingChange(ComingKind.FORM_ENDS, last + NEXT_DAY, says, "form_ends")
