"""A tried case in words: the outcome, the limits with their why, and the path through the gates. Nothing is stored."""

from dataclasses import dataclass
from datetime import date

from clients.queries import whys
from clients.queries.open_points import choices as choices_in_force
from clients.queries.reference import RulesInForce, rules_in_force, rules_of
from clients.queries.whys import LimitLine, SourceLine
from clients.rules import adjusting, trying, versions
from clients.rules.facts import ScreeningFacts
from clients.rules.outcomes import DeskWord, Outcome, desk_word
from clients.rules.reasons import ScreenReason
from clients.rules.reference import Rulebook
from clients.rules.screening import Screened
from clients.rules.versions import Comparison

TOLD_HERE = "what was told of the case"


@dataclass(frozen=True)
class TriedReason:
    """A rule that spoke. `chosen` names the point where the owner chose, `answered_by` the letter that answers it."""

    rule_id: str
    outcome: Outcome
    says: str
    strength: str
    sources: tuple[SourceLine, ...]
    answered_by: str
    chosen: str


@dataclass(frozen=True)
class TriedGate:
    """A gate in the order of reading; nothing spoke there when it has no reasons."""

    name: str
    reasons: tuple[TriedReason, ...]


@dataclass(frozen=True)
class TriedRelaxed:
    name: str
    level: str
    side: str
    letter: str
    until: date


@dataclass(frozen=True)
class TriedCase:
    """What one version of the rules says of a case on a day."""

    rules: RulesInForce
    on: date
    outcome: Outcome
    desk: DeskWord
    path: tuple[TriedGate, ...]
    limits: tuple[LimitLine, ...]
    relaxed: tuple[TriedRelaxed, ...]
    proposals: tuple[str, ...]
    conditions: tuple[str, ...]
    valid_until: date
    look_again_on: date | None
    found: Screened


def tried_case(facts: ScreeningFacts, *, on: date, version_id: int | None = None) -> TriedCase:
    """Screen a case by the rules in force, or by another version, with the owner's choices.

    Raises Refused for ids and days that cannot be, `no_rules`, and RuleSet.DoesNotExist.
    """
    rules = rules_in_force() if version_id is None else rules_of(version_id)
    book, choices = rules.rulebook, choices_in_force()
    tried = trying.tried(facts, book, on=on, choices=choices)
    found, labels = tried.found, {point.id: point.label for point in adjusting.points(book)}
    return TriedCase(
        rules=rules,
        on=on,
        outcome=found.outcome,
        desk=desk_word(found.outcome, is_valid=on <= found.valid_until),
        path=tuple(
            TriedGate(gate.name, tuple(_reason(one, book, labels) for one in gate.reasons)) for gate in tried.path
        ),
        limits=whys.limit_lines(found.limits, book, rests_on=dict.fromkeys(tried.condition_ids, TOLD_HERE)),
        relaxed=tuple(
            TriedRelaxed(book.demands[one.demand].name, one.level.value, one.side.value, one.letter_id, one.until)
            for one in found.relaxed
        ),
        proposals=tuple(one.says for one in found.proposals),
        conditions=tuple(book.conditions[one].name for one in tried.condition_ids),
        valid_until=found.valid_until,
        look_again_on=found.look_again_on,
        found=found,
    )


def between(before: TriedCase, after: TriedCase) -> Comparison:
    """What two versions say differently of the same case."""
    return versions.compared(before.found, after.found, after.rules.rulebook.demands)


def _reason(one: ScreenReason, book: Rulebook, labels: dict[str, str]) -> TriedReason:
    return TriedReason(
        rule_id=one.rule_id,
        outcome=one.outcome,
        says=one.says,
        strength=whys.strength_words(one.strength.value),
        sources=whys.source_lines(one.source_ids, book),
        answered_by=one.answered_by,
        chosen=labels.get(one.chosen, one.chosen),
    )
