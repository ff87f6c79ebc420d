"""Screening: the gates in their order, the strictest outcome, and the limits of what is in force."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from clients.rules import clearance, gates
from clients.rules.facts import ActiveCondition, ScreeningFacts
from clients.rules.limits import LimitFound, Proposal, merged_limits, proposals, window_closes
from clients.rules.outcomes import Outcome, strictest
from clients.rules.reasons import ScreenReason
from clients.rules.reference import Basis, Rulebook

REGIMES = ("uk", "us")


@dataclass(frozen=True)
class Screened:
    """What a screening found. It never says that anyone is fit or safe.

    `reasons` stand in the order of the gates and hold every rule that spoke, also milder ones. `valid_until` is the
    last day on which the answers hold, `look_again_on` the next day on which the same answers may lead elsewhere.
    """

    outcome: Outcome
    reasons: tuple[ScreenReason, ...]
    limits: tuple[LimitFound, ...]
    proposals: tuple[Proposal, ...]
    valid_until: date
    look_again_on: date | None


def screen(
    facts: ScreeningFacts,
    rulebook: Rulebook,
    *,
    on: date,
    regime: str = "uk",
    positions_b: frozenset[str] = frozenset(),
) -> Screened:
    """The outcome for one client on a day, with its reasons and limits.

    `regime` sets the pressure lines, uk or us. `positions_b` names the disagreements where the owner chose the second
    position; only D01 can be chosen here. Raises ValueError for another regime and KeyError for an id that the rule
    book does not hold.
    """
    if regime not in REGIMES:
        raise ValueError(f"no such regime of pressure lines: {regime}")
    active = conditions_in_force(facts, rulebook, on=on)
    reasons = tuple(_reasons(facts, rulebook, active, on=on, regime=regime, positions_b=positions_b))
    return Screened(
        outcome=strictest(reason.outcome for reason in reasons),
        reasons=reasons,
        limits=merged_limits(active, rulebook, on=on, restrictions=facts.restrictions),
        proposals=proposals(active, rulebook, on=on),
        valid_until=clearance.valid_until(facts, rulebook),
        look_again_on=_look_again_on(facts, rulebook, active, on=on),
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
    regime: str,
    positions_b: frozenset[str],
) -> Iterator[ScreenReason]:
    diseases = clearance.known_diseases(facts, active)
    condition_ids = frozenset(one.condition_id for one in active)
    yield from gates.red_flag_reasons(facts, rulebook, on=on)
    yield from gates.today_reasons(facts, rulebook, on=on, regime=regime, condition_ids=condition_ids)
    yield from gates.pregnancy_reasons(facts, rulebook, on=on)
    yield from clearance.table_reasons(facts, rulebook, diseases=diseases, positions_b=positions_b)
    yield from clearance.condition_reasons(active, rulebook)
    yield from clearance.answer_reasons(facts, rulebook, on=on)


def _look_again_on(
    facts: ScreeningFacts, rulebook: Rulebook, active: tuple[ActiveCondition, ...], *, on: date
) -> date | None:
    next_day = timedelta(days=1)
    days = {clearance.valid_until(facts, rulebook) + next_day}
    if facts.today or facts.flags or (facts.pregnancy and facts.pregnancy.gate_ids):
        days.add(facts.written_on + next_day)
    for one in active:
        closes = window_closes(rulebook.conditions[one.condition_id], one.since)
        days |= {closes + next_day} if closes else set()
    if facts.pregnancy:
        days |= {day for gestation in _gestation_days(rulebook) if (day := facts.pregnancy.day_of(gestation))}
    return min((day for day in days if day > on), default=None)


def _gestation_days(rulebook: Rulebook) -> set[int]:
    stages = [row.window_days_from for row in rulebook.conditions.values() if row.window_basis is Basis.GESTATION]
    return {day for day in [*stages, *(gate.from_gestation_day for gate in rulebook.pregnancy_gates.values())] if day}
