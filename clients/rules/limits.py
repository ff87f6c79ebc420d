"""Limits of all active conditions, merged: per demand and side the strictest level wins."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from clients.rules.days import day_in_words
from clients.rules.facts import ActiveCondition, LetterTerms, Restriction, Side
from clients.rules.outcomes import LEVELS, Level, strictest_level
from clients.rules.reference import Condition, Demand, LimitRule, Rulebook, Strength

TURNED_AND_ROUNDED = "rot_flex"
PARTS_OF_TURNED_AND_ROUNDED = ("rotation", "flex_loaded", "flex_end")
NOT_OFFERED = "not offered without a named clinician's written instruction"
TOLD_TO_AVOID = "left out because someone who treats the client asked for it, until a named person confirms its end"
ASKED_BY_LETTER = "left out because a clinician's letter asks for it, until a named person confirms its end"
ASKED_BY_TEACHER = "left out because the teacher asked for it, until a named person confirms its end"
AT_ANY_SYMPTOM = "stop at any symptom"
LETTER, TEACHER = "letter:", "teacher:"
BOTH_SIDES = frozenset({Side.LEFT, Side.RIGHT})
STRENGTHS = {strength: rank for rank, strength in enumerate(Strength)}


@dataclass(frozen=True)
class LimitFound:
    """One demand's level for a client, on one side or on both.

    A demand is found twice only when its two sides differ. `because` holds the conditions (or the question, for
    something told to avoid) that ask for this level, `strength` the best support among them for this very step.
    `until` is the day on which the last of their windows closes and a person is asked to confirm; None when there is
    no such day or it has passed. No limit ends on it by itself.
    """

    demand: str
    level: Level
    how: str
    side: Side
    because: tuple[str, ...]
    source_ids: tuple[str, ...]
    strength: Strength
    until: date | None


@dataclass(frozen=True)
class Relaxed:
    """A limit that a letter takes back until a day, that day included; `level` is the one it would have.

    `because` holds the conditions that ask for it. Nothing else of them is relaxed.
    """

    demand: str
    letter_id: str
    until: date
    level: Level
    because: tuple[str, ...]
    side: Side


@dataclass(frozen=True)
class Weighed:
    """The limits that are in force, and those that a letter takes back; each in the order of the demand table."""

    limits: tuple[LimitFound, ...]
    relaxed: tuple[Relaxed, ...]


@dataclass(frozen=True)
class Proposal:
    """A window has ended: a named person may confirm, and then `next_condition_id` (empty: nothing) takes over."""

    condition_id: str
    next_condition_id: str
    ended_on: date
    says: str


@dataclass(frozen=True)
class _Claim:
    """One condition's or one clinician's word on one demand."""

    demand: str
    level: Level
    how: str
    sides: frozenset[Side]
    because: str
    source_ids: tuple[str, ...]
    strength: Strength
    until: date | None
    is_restriction: bool = False


def merged_limits(
    active: Iterable[ActiveCondition],
    rulebook: Rulebook,
    *,
    on: date,
    restrictions: Iterable[Restriction] = (),
) -> tuple[LimitFound, ...]:
    """The limits of all active conditions and restrictions on the day, in the order of the demand table."""
    return weighed(active, rulebook, on=on, restrictions=restrictions).limits


def weighed(
    active: Iterable[ActiveCondition],
    rulebook: Rulebook,
    *,
    on: date,
    restrictions: Iterable[Restriction] = (),
    letters: Iterable[LetterTerms] = (),
) -> Weighed:
    """The limits of all that is in force on the day, and what the letters relax of them.

    A letter relaxes only the demands it names, only in its time, and not where a restriction, or what a letter
    forbids, names the same demand. Raises KeyError for a demand or condition that the rule book does not hold.
    """
    letters = tuple(letters)
    claims = [claim for one in active for claim in _claims_of(one, rulebook, on)]
    told = [*restrictions, *(_forbidden(letter) for letter in letters if letter.forbids)]
    claims += [claim for one in told for claim in _claims_of_restriction(one, rulebook)]
    by_demand: dict[str, list[_Claim]] = {}
    for claim in sorted(set(claims), key=lambda claim: (claim.because, claim.how)):
        by_demand.setdefault(claim.demand, []).append(claim)
    allowed = _allowed(letters, on)
    limits: list[LimitFound] = []
    relaxed: list[Relaxed] = []
    for demand in rulebook.demands:
        if demand in by_demand:
            kept, freed = _parted(by_demand[demand], is_allowed=demand in allowed)
            limits += kept
            relaxed += [_relaxed(one, allowed[demand]) for one in freed]
    return Weighed(tuple(limits), tuple(relaxed))


def _forbidden(letter: LetterTerms) -> Restriction:
    return Restriction(letter.forbids, told_at=f"{LETTER}{letter.letter_id}")


def _allowed(letters: Iterable[LetterTerms], on: date) -> dict[str, LetterTerms]:
    """The letter that allows each demand on the day: the one that holds longest."""
    holding = sorted((one for one in letters if one.holds(on)), key=lambda one: (one.holds_until, one.letter_id))
    return {demand: letter for letter in holding for demand in letter.allows}


def levels_of(limits: Iterable[LimitFound]) -> dict[str, Level]:
    """The strictest level of each demand, whichever side it is on."""
    levels: dict[str, Level] = {}
    for limit in limits:
        known = levels.get(limit.demand, limit.level)
        levels[limit.demand] = min(known, limit.level, key=LEVELS.index)
    return levels


def window_closes(condition: Condition, since: date | None) -> date | None:
    """The last day of a window counted from an event or onset, or None when there is none or no day to count from."""
    if not condition.has_last_day or condition.window_days_to is None or since is None:
        return None
    return since + timedelta(days=condition.window_days_to)


def condition_on(first: Condition, rulebook: Rulebook, *, since: date, on: date) -> Condition | None:
    """The row of a chain of windows that holds on the day, `first` being its earliest; None when all have ended.

    Only for a fact that is told anew: a condition already in force moves on when a named person confirms.
    """
    row: Condition | None = first
    while row is not None:
        closes = window_closes(row, since)
        if closes is None or on <= closes:
            return row
        row = rulebook.conditions.get(row.next_condition_id)
    return None


def proposals(active: Iterable[ActiveCondition], rulebook: Rulebook, *, on: date) -> tuple[Proposal, ...]:
    """What a named person is asked to confirm: each window that has ended by the day."""
    found = []
    for one in active:
        condition = rulebook.conditions[one.condition_id]
        closes = window_closes(condition, one.since)
        if closes is None or on <= closes or one.is_held:
            continue
        follower = rulebook.conditions.get(condition.next_condition_id)
        then = f"it would continue as: {follower.name}" if follower else "no other limit would follow"
        says = f"{condition.name}: the window ended on {day_in_words(closes)}; {then}. A named person confirms."
        found.append(Proposal(condition.id, condition.next_condition_id, closes, says))
    return tuple(sorted(found, key=lambda one: (one.condition_id, one.ended_on)))


def _claims_of(one: ActiveCondition, rulebook: Rulebook, on: date) -> list[_Claim]:
    condition = rulebook.conditions[one.condition_id]
    closes = window_closes(condition, one.since)
    until = closes if closes is not None and on <= closes and not one.is_held else None
    sides = _sides(one.side if condition.is_sided else None)
    rules = rulebook.limits_by_condition.get(condition.id, ())
    return [
        _Claim(rule.demand, rule.level, rule.how, sides, condition.id, rule.source_ids, rule.strength, until)
        for rule in [*rules, *_turned_and_rounded(rules, rulebook)]
    ]


def _turned_and_rounded(rules: tuple[LimitRule, ...], rulebook: Rulebook) -> list[LimitRule]:
    """Turned and rounded at once is never freer than its strictest part, also where the table leaves it out."""
    by_demand = {rule.demand: rule for rule in rules}
    parts = [by_demand[part] for part in PARTS_OF_TURNED_AND_ROUNDED if part in by_demand]
    if not parts:
        return []
    part = min(parts, key=lambda rule: LEVELS.index(rule.level))
    given = by_demand.get(TURNED_AND_ROUNDED)
    if given and LEVELS.index(given.level) <= LEVELS.index(part.level):
        return []
    how = {
        Level.AVOID: NOT_OFFERED,
        Level.ADAPT: rulebook.demands[TURNED_AND_ROUNDED].default_adapt,
        Level.WATCH: AT_ANY_SYMPTOM,
    }[part.level]
    return [LimitRule(part.condition_id, TURNED_AND_ROUNDED, part.level, how, part.source_ids, part.strength)]


def _claims_of_restriction(one: Restriction, rulebook: Rulebook) -> list[_Claim]:
    demands = set(one.demands)
    if demands & set(PARTS_OF_TURNED_AND_ROUNDED):
        demands.add(TURNED_AND_ROUNDED)
    return [
        _Claim(
            demand=demand,
            level=one.level,
            how=_how_told(one, rulebook.demands[demand]),
            sides=_sides(one.side),
            because=one.told_at,
            source_ids=("studio_default",),
            strength=Strength.COMMON_PRACTICE,
            until=None,
            is_restriction=True,
        )
        for demand in sorted(demands)
    ]


def _how_told(one: Restriction, demand: Demand) -> str:
    if one.level is Level.ADAPT:
        return demand.default_adapt
    if one.level is Level.WATCH:
        return AT_ANY_SYMPTOM
    if one.told_at.startswith(LETTER):
        return ASKED_BY_LETTER
    return ASKED_BY_TEACHER if one.told_at.startswith(TEACHER) else TOLD_TO_AVOID


def _sides(side: Side | None) -> frozenset[Side]:
    return BOTH_SIDES if side in (None, Side.BOTH) else frozenset({side})


def _parted(claims: list[_Claim], *, is_allowed: bool) -> tuple[list[LimitFound], list[LimitFound]]:
    """One demand's limits that stay, and those that an allowing letter takes back, side by side."""
    if all(claim.sides is BOTH_SIDES for claim in claims):
        found = [_found(_strictest_of(claims), Side.BOTH)]
        frees = is_allowed and not any(claim.is_restriction for claim in claims)
        return ([], found) if frees else (found, [])
    winners = {side: _on_side(claims, side) for side in (Side.LEFT, Side.RIGHT)}
    if not is_allowed:
        return _merged(winners[Side.LEFT], winners[Side.RIGHT]), []
    held = {side for one in claims if one.is_restriction for side in one.sides}
    kept = {side: won if side in held else [] for side, won in winners.items()}
    freed = {side: [] if side in held else won for side, won in winners.items()}
    return _merged(kept[Side.LEFT], kept[Side.RIGHT]), _merged(freed[Side.LEFT], freed[Side.RIGHT])


def _relaxed(limit: LimitFound, letter: LetterTerms) -> Relaxed:
    return Relaxed(limit.demand, letter.letter_id, letter.holds_until, limit.level, limit.because, limit.side)


def _merged(left: list[_Claim], right: list[_Claim]) -> list[LimitFound]:
    if left and left == right:
        return [_found(left, Side.BOTH)]
    return [_found(winners, side) for winners, side in ((left, Side.LEFT), (right, Side.RIGHT)) if winners]


def _on_side(claims: list[_Claim], side: Side) -> list[_Claim]:
    return _strictest_of([claim for claim in claims if side in claim.sides])


def _strictest_of(claims: list[_Claim]) -> list[_Claim]:
    if len(claims) < 2:
        return claims
    level = strictest_level(claim.level for claim in claims)
    return [claim for claim in claims if claim.level is level]


def _found(winners: list[_Claim], side: Side) -> LimitFound:
    if len(winners) == 1:
        one = winners[0]
        because, sources = (one.because,), _once(one.source_ids)
        return LimitFound(one.demand, one.level, one.how, side, because, sources, one.strength, one.until)
    days = [claim.until for claim in winners]
    known = [day for day in days if day is not None]
    return LimitFound(
        demand=winners[0].demand,
        level=winners[0].level,
        how="; ".join(_once(claim.how for claim in winners if claim.how)),
        side=side,
        because=_once(claim.because for claim in winners),
        source_ids=_once(source for claim in winners for source in claim.source_ids),
        strength=min((claim.strength for claim in winners), key=STRENGTHS.__getitem__),
        until=max(known) if known and len(known) == len(days) else None,
    )


def _once(values: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(values))
