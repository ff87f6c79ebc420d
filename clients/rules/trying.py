"""A case that nobody has: values in, facts out, every id checked against the rule book first."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from clients.rules import adjusting
from clients.rules.adjusting import Choices
from clients.rules.facts import (
    ActiveCondition,
    Disease,
    LetterTerms,
    Pregnancy,
    Pressure,
    Readings,
    Restriction,
    ScreeningFacts,
    Side,
    Today,
    ToldFlag,
)
from clients.rules.reasons import ReasonKind, ScreenReason
from clients.rules.reference import Intensity, Level, Rulebook
from clients.rules.screening import Screened, conditions_in_force, screen
from studio.rules import Reason, Refused

# The gates in the order in which they are read, in words.
GATES: Mapping[ReasonKind, str] = {
    ReasonKind.RED_FLAG: "Red flags",
    ReasonKind.TODAY: "Today’s state, pressure and pulse",
    ReasonKind.PREGNANCY: "Pregnancy",
    ReasonKind.CLEARANCE_TABLE: "Clearance table",
    ReasonKind.CONDITION: "What conditions ask for",
    ReasonKind.WINDOW: "Open windows",
    ReasonKind.ANSWER: "Other answers",
    ReasonKind.UNANSWERED: "Not known",
}
EARLIEST, LATEST = date(1900, 1, 1), date(2200, 1, 1)


@dataclass(frozen=True)
class GateStep:
    """One gate of the path, and what spoke there; nothing spoke when `reasons` is empty."""

    name: str
    reasons: tuple[ScreenReason, ...]


@dataclass(frozen=True)
class Tried:
    """What the rules say of a case; `path` are the gates in the order in which they are read."""

    found: Screened
    path: tuple[GateStep, ...]
    # The conditions counted, those of a pregnancy's stage included.
    condition_ids: tuple[str, ...]


def tried(facts: ScreeningFacts, rulebook: Rulebook, *, on: date, choices: Choices) -> Tried:
    """Screen a case. Raises Refused with every id or day that cannot be, each with the field it was given in."""
    if found := list(refusals(facts, rulebook, on=on)):
        raise Refused(found)
    screened = screen(facts, rulebook, on=on, choices=choices)
    path = tuple(
        GateStep(name, tuple(one for one in screened.reasons if one.kind is kind)) for kind, name in GATES.items()
    )
    active = conditions_in_force(facts, adjusting.adjusted(rulebook, choices), on=on)
    return Tried(screened, path, tuple(dict.fromkeys(one.condition_id for one in active)))


def refusals(facts: ScreeningFacts, rulebook: Rulebook, *, on: date) -> Iterator[Reason]:
    """Ids that the book does not hold, and days that cannot be."""
    for at, one in enumerate(facts.conditions):
        yield from _unknown(f"conditions.{at}.condition", {one.condition_id}, rulebook.conditions, "condition")
        if one.since is not None and one.since > on:
            yield Reason("in_the_future", "This began after the day the case is tried on.", f"conditions.{at}.since")
    yield from _unknown("symptoms", facts.symptoms or (), rulebook.symptoms, "sign")
    yield from _unknown("flags", {one.flag_id for one in facts.flags}, rulebook.red_flags, "red flag")
    if facts.pregnancy is not None:
        yield from _unknown("pregnancy.gates", facts.pregnancy.gate_ids, rulebook.pregnancy_gates, "statement")
        yield from _odd_due_date(facts, on)
    for at, restriction in enumerate(facts.restrictions):
        yield from _unknown(f"restrictions.{at}.demands", restriction.demands, rulebook.demands, "demand")
    for at, letter in enumerate(facts.letters):
        yield from _unknown(f"letters.{at}.allows", letter.allows, rulebook.demands, "demand")
        yield from _unknown(f"letters.{at}.forbids", letter.forbids, rulebook.demands, "demand")
        yield from _unknown(f"letters.{at}.answers", letter.answers, answerable(rulebook), "rule")
    if facts.written_on > on:
        yield Reason("in_the_future", "The answers were given after the day the case is tried on.", "written_on")
    if not EARLIEST <= on <= LATEST or facts.written_on < EARLIEST:
        yield Reason("out_of_time", "Please choose a day from 1900 to 2199.", "on")


def _odd_due_date(facts: ScreeningFacts, on: date) -> Iterator[Reason]:
    gestation = facts.pregnancy.gestation(on) if facts.pregnancy else None
    # A pregnancy lasts 280 days from its first counted day; three weeks over is the most that is let run.
    if gestation is not None and not 0 <= gestation <= 301:
        says = "On the day tried this due date lies more than 40 weeks ahead or more than 3 weeks back."
        yield Reason("odd_due_date", says, "pregnancy.due_on")


def answerable(rulebook: Rulebook) -> frozenset[str]:
    """The ids of all rules whose asking for clearance a letter may answer."""
    leaves = {f"leaf {leaf.leaf}" for leaf in rulebook.leaves}
    tables = (
        rulebook.conditions,
        rulebook.symptoms,
        rulebook.red_flags,
        rulebook.bp_gates,
        rulebook.pregnancy_gates,
        rulebook.questions,
    )
    return frozenset(leaves.union(*tables))


def _unknown(field: str, given: Collection[str], known: Collection[str], what: str) -> Iterator[Reason]:
    if strange := sorted(set(given) - set(known)):
        says = f"There is no {what} {', '.join(one[:40] for one in strange[:5])} in these rules."
        yield Reason("unknown_id", says, field)


def facts_from(case: Mapping[str, Any], *, on: date) -> ScreeningFacts:
    """The facts of a case told as plain values of the right kind; what is not told is not known.

    Keys are those of the API's TryCase. Ids are not checked here: `refusals` does that.
    """
    pregnancy = case.get("pregnancy")
    return ScreeningFacts(
        written_on=case.get("written_on") or on,
        regularly_active=case.get("regularly_active"),
        diseases=_some(case.get("diseases"), Disease),
        symptoms=_some(case.get("symptoms"), str),
        chest_pain_is_new=bool(case.get("chest_pain_is_new")),
        intensity=Intensity(case["intensity"]) if case.get("intensity") else None,
        conditions=tuple(_condition(one) for one in case.get("conditions", ())),
        flags=tuple(ToldFlag(one["flag"], one.get("needs_met", True)) for one in case.get("flags", ())),
        readings=_readings(case.get("readings") or {}),
        pregnancy=Pregnancy(pregnancy.get("due_on"), frozenset(pregnancy.get("gates", ()))) if pregnancy else None,
        today=_some(case.get("today"), Today) or frozenset(),
        restrictions=tuple(_restriction(one) for one in case.get("restrictions", ())),
        letters=tuple(_letter(one, at, on) for at, one in enumerate(case.get("letters", ()))),
        has_unread_words=bool(case.get("has_unread_words")),
        supervised_only=bool(case.get("supervised_only")),
    )


def _some(values: Collection[str] | None, kind: Any) -> frozenset[Any] | None:
    return None if values is None else frozenset(kind(one) for one in values)


def _side(value: str | None) -> Side | None:
    return Side(value) if value else None


def _condition(told: Mapping[str, Any]) -> ActiveCondition:
    return ActiveCondition(
        condition_id=told["condition"],
        side=_side(told.get("side")),
        since=told.get("since"),
        needs_clearance=told.get("needs_clearance"),
        is_held=bool(told.get("is_held")),
    )


def _readings(told: Mapping[str, Any]) -> Readings:
    return Readings(
        pressures=tuple(Pressure(one["systolic"], one["diastolic"]) for one in told.get("pressures", ())),
        heart_rate=told.get("heart_rate"),
        is_treated=told.get("is_treated"),
        has_signs=told.get("has_signs"),
        standing_drop=told.get("standing_drop"),
        faint_with_low_pressure=bool(told.get("faint_with_low_pressure")),
    )


def _restriction(told: Mapping[str, Any]) -> Restriction:
    level = Level(told.get("level") or Level.AVOID)
    return Restriction(frozenset(told["demands"]), level=level, side=_side(told.get("side")))


def _letter(told: Mapping[str, Any], at: int, on: date) -> LetterTerms:
    """A letter without an end holds on the day tried and no longer, so that no interval is hidden in a case."""
    dated = told.get("dated") or on
    return LetterTerms(
        letter_id=f"letter {at + 1}",
        dated=dated,
        holds_until=told.get("holds_until") or max(on, dated),
        answers=frozenset(told.get("answers", ())),
        effort=Intensity(told["effort"]) if told.get("effort") else None,
        allows=frozenset(told.get("allows", ())),
        forbids=frozenset(told.get("forbids", ())),
    )
