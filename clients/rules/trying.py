"""A case that nobody has: values in, facts out, every id checked against the rule book first."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from clients.rules import adjusting
from clients.rules.adjusting import Choices
from clients.rules.facts import ScreeningFacts
from clients.rules.reasons import ReasonKind, ScreenReason
from clients.rules.reference import Rulebook
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
