"""What fitting did to a program for this body, opened, and its why lines in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from clients.queries import whys
from clients.rules.outcomes import Level
from clients.rules.reference import Rulebook
from programming.rules import checkins
from programming.rules.fitting import Cost, Rule, unproven_words
from programming.rules.repertoire import ExerciseRow
from studio.rules import ApparatusKind

RULE_WORDS = {rule.value: rule.value for rule in Rule}


@dataclass(frozen=True)
class LineFit:
    """What fitting did to one line, in the words that are kept sealed; `why` has the columns of `fitting.Why`.

    `steps` are codes of the ladder steps it is done with, `setup` its set-ups in words, `lost` the aims of the planned
    row that what is done does not serve, `notes` what else than a limit decided. `by_hand` names the teacher who chose
    the line herself.
    """

    form: str = ""
    why: tuple[dict[str, Any], ...] = ()
    demands: frozenset[str] = frozenset()
    steps: tuple[str, ...] = ()
    setup: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    by_hand: str = ""


@dataclass(frozen=True)
class FittedTo:
    """What of the client a program was fitted to: limits by demand, notes, waivers, levels, and what was said today."""

    levels: Mapping[str, Level]
    notes: frozenset[str]
    waived: frozenset[str]
    ceilings: Mapping[ApparatusKind, int]
    said: str


@dataclass(frozen=True)
class Fit:
    """The sealed part of a program, opened: the digest of the limits it was fitted for, and its lines by position.

    `to` is None for a program fitted before more than the limits was kept. `lost_aims` are aims of the template that
    no line serves; `blocks_most` holds (demand, lines it keeps out). `unproven` is what the fit cost and the least that
    any fit costs, None for one that is proven best. Empty for a client whose record was erased.
    """

    limits: str = ""
    lines: Mapping[int, LineFit] = field(default_factory=dict)
    to: FittedTo | None = None
    lost_aims: tuple[str, ...] = ()
    blocks_most: tuple[tuple[str, int], ...] = ()
    unproven: tuple[Cost, Cost] | None = None

    @property
    def unproven_words(self) -> str:
        """What is not proven of the fit, with its bound; empty for one that is proven best."""
        return unproven_words(*self.unproven) if self.unproven else ""

    def of(self, position: int) -> LineFit:
        return self.lines.get(position, LineFit())


@dataclass(frozen=True)
class WhyStep:
    """One step of a why line: condition → demand → rule → source. `row` is the exercise it speaks of."""

    row: str
    level: str
    conditions: tuple[str, ...]
    demand: str
    rule: str
    how: str
    strength: str
    sources: tuple[whys.SourceLine, ...]


def why_steps(
    why: Sequence[Mapping[str, Any]], named: Mapping[str, ExerciseRow], rulebook: Rulebook
) -> tuple[WhyStep, ...]:
    """The steps in words; `named` are the exercises they may speak of."""
    return tuple(_why(step, named, rulebook) for step in why)


def demand_words(demand: str, rulebook: Rulebook) -> str:
    """A demand by its name; what the rules do not hold keeps its code."""
    return rulebook.demands[demand].name if demand in rulebook.demands else demand


def aim_words(aims: Sequence[str]) -> tuple[str, ...]:
    """Aims as a teacher reads them."""
    return tuple(aim.replace("_", " ") for aim in aims)


def _why(step: Mapping[str, Any], named: Mapping[str, ExerciseRow], rulebook: Rulebook) -> WhyStep:
    known = [one for one in step["source_ids"] if one in rulebook.sources]
    row = named.get(step["exercise_id"])
    return WhyStep(
        row=row.name if row else step["exercise_id"],
        level=step["level"],
        conditions=tuple(_condition(one, rulebook) for one in step["because"]),
        demand=demand_words(step["demand"], rulebook),
        rule=RULE_WORDS.get(step["rule"], step["rule"]),
        how=step["how"],
        strength=rulebook.strength_of(known).value.replace("_", " "),
        sources=whys.source_lines(known, rulebook),
    )


def _condition(key: str, rulebook: Rulebook) -> str:
    if key in rulebook.conditions:
        return rulebook.conditions[key].name
    if said := checkins.because_words(key):
        return said
    return "asked for by somebody who treats the client" if key in rulebook.questions else key
