"""Screening: the gates in their order, the strictest outcome, and the limits of what is in force."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from clients.rules import adjusting, clearance, gates, letters
from clients.rules.adjusting import AS_STATED, Choices
from clients.rules.facts import ActiveCondition, ScreeningFacts
from clients.rules.limits import LimitFound, Proposal, Relaxed, proposals, weighed, window_closes
from clients.rules.outcomes import Outcome, strictest
from clients.rules.reasons import ScreenReason
from clients.rules.reference import Rulebook


@dataclass(frozen=True)
class Screened:
    """What a screening found. It never says that anyone is fit or safe.

    `reasons` stand in the order of the gates and hold every rule that spoke, also milder ones. `valid_until` is the
    last day on which the answers hold, `look_again_on` the next day on which the same facts may lead elsewhere.
    `relaxed` are the limits that a letter takes back for a time.
    """

    outcome: Outcome
    reasons: tuple[ScreenReason, ...]
    limits: tuple[LimitFound, ...]
    proposals: tuple[Proposal, ...]
    valid_until: date
    look_again_on: date | None
    relaxed: tuple[Relaxed, ...] = ()


def screen(facts: ScreeningFacts, rulebook: Rulebook, *, on: date, choices: Choices = AS_STATED) -> Screened:
    """The outcome for one client on a day, with its reasons and limits.

    `rulebook` is the book as its tables state it; `choices` are the owner's, where the book leaves any. Raises
    KeyError for an id that the rule book does not hold.
    """
    book = adjusting.adjusted(rulebook, choices)
    active = conditions_in_force(facts, book, on=on)
    found = _reasons(facts, book, active, on=on, stated=rulebook, choices=choices)
    reasons = letters.answered(found, facts.letters, book, on=on)
    limits = weighed(active, book, on=on, restrictions=facts.restrictions, letters=facts.letters)
    return Screened(
        outcome=strictest(reason.outcome for reason in reasons),
        reasons=reasons,
        limits=limits.limits,
        proposals=proposals(active, book, on=on),
        valid_until=clearance.valid_until(facts, book),
        look_again_on=_look_again_on(facts, book, active, on=on),
        relaxed=limits.relaxed,
    )


def conditions_in_force(facts: ScreeningFacts, rulebook: Rulebook, *, on: date) -> tuple[ActiveCondition, ...]:
    """The conditions told, and the stage of a pregnancy on the day, in an order that does not depend on the telling."""
    active = set(facts.conditions)
    if facts.pregnancy is not None:
        active.add(ActiveCondition(gates.pregnancy_condition(facts.pregnancy, rulebook, on=on).id))
    return tuple(sorted(active, key=lambda one: (one.condition_id, one.side or "", str(one.since), str(one))))


def _reasons(
    facts: ScreeningFacts,
    rulebook: Rulebook,
    active: tuple[ActiveCondition, ...],
    *,
    on: date,
    stated: Rulebook,
    choices: Choices,
) -> Iterator[ScreenReason]:
    diseases = clearance.known_diseases(facts, active)
    condition_ids = frozenset(one.condition_id for one in active)
    yield from gates.red_flag_reasons(facts, rulebook, on=on)
    yield from gates.today_reasons(facts, rulebook, on=on, stated=stated, choices=choices, condition_ids=condition_ids)
    yield from gates.pregnancy_reasons(facts, rulebook, on=on)
    yield from clearance.table_reasons(facts, rulebook, diseases=diseases, choices=choices)
    yield from clearance.condition_reasons(active, rulebook)
    yield from clearance.answer_reasons(facts, rulebook, on=on, stated=stated)


def _look_again_on(
    facts: ScreeningFacts, rulebook: Rulebook, active: tuple[ActiveCondition, ...], *, on: date
) -> date | None:
    next_day = timedelta(days=1)
    days = {clearance.valid_until(facts, rulebook) + next_day, *letters.turning_days(facts.letters, rulebook)}
    if facts.today or facts.flags or (facts.pregnancy and facts.pregnancy.gate_ids):
        days.add(facts.written_on + next_day)
    for one in active:
        closes = window_closes(rulebook.conditions[one.condition_id], one.since)
        days |= {closes + next_day} if closes else set()
    if facts.pregnancy:
        days |= {day for gestation in rulebook.gestation_days if (day := facts.pregnancy.day_of(gestation))}
    return min((day for day in days if day > on), default=None)
