"""Somebody with nothing to tell, for the checks against published sources: each adds the one thing it is about."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from clients.rules import ActiveCondition, Level, Outcome, Rulebook, Screened, ScreeningFacts, levels_of, screen
from clients.rules.limits import condition_on
from clients.rules.reference import Intensity
from tests.reference import tables

BOOK = Rulebook.from_tables(tables())
ON = date(2026, 3, 2)
WELL = ScreeningFacts(
    written_on=ON,
    regularly_active=True,
    diseases=frozenset(),
    symptoms=frozenset(),
    intensity=Intensity.LIGHT_MODERATE,
)


def ago(days: int) -> date:
    return ON - timedelta(days=days)


def found(**told: Any) -> Screened:
    """What a screening finds on the day for somebody who is well but for what is told."""
    return screen(replace(WELL, **told), BOOK, on=ON)


def outcome(**told: Any) -> Outcome:
    return found(**told).outcome


def levels(condition_id: str, *, since: date | None = None) -> dict[str, Level]:
    """The strictest level of each demand while this condition alone is in force."""
    return levels_of(found(conditions=(ActiveCondition(condition_id, since=since, needs_clearance=False),)).limits)


def avoided(condition_id: str) -> set[str]:
    return {demand for demand, level in levels(condition_id).items() if level is Level.AVOID}


def row_on(first: str, days: int) -> str:
    """The condition that holds so many days after the event that `first` begins with; empty when all have ended."""
    row = condition_on(BOOK.conditions[first], BOOK, since=ago(days), on=ON)
    return row.id if row else ""


def sources_of(condition_id: str, demand: str) -> tuple[str, ...]:
    return next(rule.source_ids for rule in BOOK.limits_by_condition[condition_id] if rule.demand == demand)


def asked_to_confirm(condition_id: str, days: int) -> list[tuple[str, str]]:
    """What a named person is asked to confirm so many days after the event: the condition, and what would follow."""
    told = ActiveCondition(condition_id, since=ago(days), needs_clearance=False)
    return [(one.condition_id, one.next_condition_id) for one in found(conditions=(told,)).proposals]
