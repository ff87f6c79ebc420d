"""What a clinician's letter does to the reasons of a screening: it answers what it names, in its time, and no more."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from clients.rules.facts import LetterTerms
from clients.rules.outcomes import Outcome
from clients.rules.reasons import ScreenReason
from clients.rules.reference import Intensity, Rulebook

LETTER_INTERVAL, VIGOROUS_INTERVAL = "clearance_letter", "vigorous_clearance"
DATED_LETTER = "dated_letter"
NEXT_DAY = timedelta(days=1)


def holds_until(*, dated: date, own_end: date | None, rulebook: Rulebook) -> date:
    """The last day on which a letter answers or relaxes anything: its own if it names one, else by the interval."""
    return own_end if own_end is not None else dated + timedelta(days=_days(rulebook, LETTER_INTERVAL) - 1)


def answered(
    reasons: Iterable[ScreenReason], letters: Sequence[LetterTerms], rulebook: Rulebook, *, on: date
) -> tuple[ScreenReason, ...]:
    """The same reasons in the same order, with what a letter answers marked by it and milder.

    Only an asking for clearance is answered, and the table's wish for a dated letter before hard work: never an
    emergency, a postponement or something not known. Vigorous work is open only while the letter is fresh enough.
    """
    holding = [letter for letter in letters if letter.holds(on)]
    if not holding:
        return tuple(reasons)
    vigorous_from = on - timedelta(days=_days(rulebook, VIGOROUS_INTERVAL) - 1)
    holding.sort(key=lambda one: (not _is_vigorous(one, vigorous_from), -one.holds_until.toordinal(), one.letter_id))
    wait = frozenset(f"leaf {leaf.leaf}" for leaf in rulebook.leaves if leaf.clearance_needed == DATED_LETTER)
    return tuple(_answered(one, holding, wait, vigorous_from) for one in reasons)


def _answered(
    reason: ScreenReason, holding: list[LetterTerms], wait: frozenset[str], vigorous_from: date
) -> ScreenReason:
    letter = next((one for one in holding if _names(one, reason)), None)
    if letter is None:
        return reason
    is_vigorous = _is_vigorous(letter, vigorous_from)
    if reason.outcome is Outcome.REFER:
        left = Outcome.CLEAR if is_vigorous else Outcome.CLEAR_LIMITED
        return replace(reason, outcome=left, answered_by=letter.letter_id)
    if reason.outcome is Outcome.CLEAR_LIMITED and reason.rule_id in wait and is_vigorous:
        return replace(reason, outcome=Outcome.CLEAR, answered_by=letter.letter_id)
    return reason


def _names(letter: LetterTerms, reason: ScreenReason) -> bool:
    is_known = letter.told is None or letter.told.issuperset(reason.about)
    return reason.rule_id in letter.answers and is_known


def _is_vigorous(letter: LetterTerms, vigorous_from: date) -> bool:
    return letter.effort is Intensity.VIGOROUS and letter.dated is not None and letter.dated >= vigorous_from


def turning_days(letters: Iterable[LetterTerms], rulebook: Rulebook) -> set[date]:
    """The days on which a letter begins to hold, no longer opens vigorous work, or no longer holds."""
    days: set[date] = set()
    for letter in letters:
        if letter.is_named and letter.dated is not None:
            days |= {letter.dated, letter.holds_until + NEXT_DAY}
            ends = vigorous_ends(letter, rulebook)
            days |= {ends} if ends else set()
    return days


def vigorous_ends(letter: LetterTerms, rulebook: Rulebook) -> date | None:
    """The first day on which a letter no longer opens vigorous work; None for one that never does."""
    if letter.effort is not Intensity.VIGOROUS or letter.dated is None:
        return None
    return letter.dated + timedelta(days=_days(rulebook, VIGOROUS_INTERVAL))


def _days(rulebook: Rulebook, item: str) -> int:
    days = rulebook.intervals[item].days
    if days is None:
        raise ValueError(f"the interval {item} has no days")
    return days
