"""A clinician's letter put into terms by a person: what may be entered, and in words what it will do."""

import hashlib
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from clients.rules.letters import DATED_LETTER
from clients.rules.limits import LimitFound
from clients.rules.outcomes import LEVELS, Outcome
from clients.rules.reasons import ScreenReason
from clients.rules.reference import Intensity, Rulebook
from clients.rules.screening import Screened
from studio.rules import Reason

# The demands as a letter speaks of them; every demand is in exactly one group.
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Back", ("flex_loaded", "flex_end", "ext_loaded", "ext_end", "rotation", "rot_flex", "sidebend")),
    ("Head and neck", ("inversion", "hips_high", "neck_hold", "neck_weight")),
    (
        "Hips and knees",
        (
            "hip_flex_90",
            "hip_add_mid",
            "hip_ext",
            "hip_abd_wide",
            "hamstring_end",
            "stretch_end",
            "knee_flex_deep",
            "kneel",
        ),
    ),
    ("Shoulders and hands", ("wrist_wb", "shoulder_wb", "shoulder_overhead", "shoulder_ext_end", "grip")),
    ("How it is lain and held", ("supine_flat", "prone", "long_lever", "straining")),
    ("Balance, feet and speed", ("balance", "rolling", "impact", "pivot", "forefoot", "posture_change")),
)
# Studio defaults: an older or longer one is more likely a slip of the pen.
OLDEST, LONGEST = timedelta(days=3 * 366), timedelta(days=5 * 366)
EFFORTS = {
    Intensity.LIGHT_MODERATE: "light to moderate, as most lessons here",
    Intensity.VIGOROUS: "hard work too, such as jumping on the springs",
}


@dataclass(frozen=True)
class Entered:
    """What a person read in a letter. Empty or None: the letter does not say.

    `answers` are ids of rules, `allows` and `forbids` demands, `words` her note for the others who teach the client.
    """

    clinician: str = ""
    profession: str = ""
    dated: date | None = None
    until: date | None = None
    answers: frozenset[str] = frozenset()
    effort: Intensity | None = None
    allows: frozenset[str] = frozenset()
    forbids: frozenset[str] = frozenset()
    words: str = ""

    @property
    def loosens(self) -> bool:
        """Whether it would answer or relax anything, which only a written, dated and named letter may."""
        return bool(self.answers or self.effort or self.allows)


@dataclass(frozen=True)
class Doing:
    """What confirming does, in sentences: what is lifted, what is left out, what stays, and where the client stands."""

    outcome_before: Outcome | None = None
    outcome_after: Outcome | None = None
    lifted: tuple[str, ...] = field(default=())
    added: tuple[str, ...] = field(default=())
    stays: tuple[str, ...] = field(default=())


def mark_of(entered: Entered, does: Doing) -> str:
    """64 signs that change with any term or anything it does: what was read back is what is confirmed."""
    sets = {name: sorted(getattr(entered, name)) for name in ("answers", "allows", "forbids")}
    told = repr((replace(entered, answers=frozenset(), allows=frozenset(), forbids=frozenset()), sets, does))
    return hashlib.sha256(told.encode()).hexdigest()


def answerable(reasons: Iterable[ScreenReason], rulebook: Rulebook) -> tuple[ScreenReason, ...]:
    """The reasons that a letter can answer, also those that one answers already."""
    wait = {f"leaf {leaf.leaf}" for leaf in rulebook.leaves if leaf.clearance_needed == DATED_LETTER}
    return tuple(
        one
        for one in reasons
        if one.outcome is Outcome.REFER
        or one.answered_by
        or (one.outcome is Outcome.CLEAR_LIMITED and one.rule_id in wait)
    )


def refusals(entered: Entered, *, asked: Collection[str], demands: Collection[str], on: date) -> list[Reason]:
    """Why these terms are not taken, each beside its field; `asked` are the rules that a letter may answer now."""
    reasons = [*_of_the_day(entered, on), *_of_the_author(entered)]
    if entered.answers - set(asked):
        says = "This is not asked any more. Look at what is open now, and choose again."
        reasons.append(Reason("not_asked", says, "answers"))
    if (entered.allows | entered.forbids) - set(demands):
        reasons.append(Reason("unknown_demand", "There is no such movement in the rules.", "forbids"))
    if entered.allows & entered.forbids:
        says = "A movement is both allowed and left out. Which does the letter say?"
        reasons.append(Reason("both", says, "forbids"))
    if not (entered.loosens or entered.forbids):
        says = "It answers nothing, allows nothing and leaves nothing out. If it says nothing of use, set it aside."
        reasons.append(Reason("says_nothing", says, "answers", "at least one of them"))
    return reasons


def _of_the_day(entered: Entered, on: date) -> list[Reason]:
    reasons = []
    if entered.dated is not None and entered.dated > on:
        reasons.append(Reason("in_future", "The letter's date is still to come. Which date does it bear?", "dated"))
    elif entered.dated is not None and on - entered.dated > OLDEST:
        reasons.append(Reason("too_old", "The letter would be over three years old. Is the year right?", "dated"))
    starts = entered.dated or on
    if entered.until is not None and entered.until < starts:
        reasons.append(Reason("ends_before", "It would end before it begins. Until when does it hold?", "until"))
    elif entered.until is not None and entered.until - starts > LONGEST:
        reasons.append(Reason("too_long", "It would hold for over five years. Is the year right?", "until"))
    return reasons


def _of_the_author(entered: Entered) -> list[Reason]:
    if not entered.loosens:
        return []
    says = "Only a letter that is {} can answer or allow anything. Without that it can only leave movements out."
    missing = (
        ("clinician", "signed by somebody named", entered.clinician),
        ("profession", "signed by somebody whose profession is known", entered.profession),
        ("dated", "dated", entered.dated),
    )
    return [Reason("not_whole", says.format(word), name) for name, word, value in missing if not value]


def doing(
    entered: Entered, *, before: Screened | None, after: Screened | None, until: date, rulebook: Rulebook
) -> Doing:
    """What confirming `entered` does, from the screening without it and the one with it; both None without a form."""
    if before is None or after is None:
        return Doing(added=_left_out(entered.forbids, rulebook), stays=_until_ended(entered))
    open_after = {one.rule_id for one in after.reasons if one.outcome is Outcome.REFER}
    was_open = {one.rule_id for one in before.reasons if one.outcome is Outcome.REFER}
    lifted = [f"“{one.says}” is answered until {_day(until)}." for one in _first(before, was_open - open_after)]
    lifted += _relaxed(before, after, until, rulebook)
    return Doing(
        outcome_before=before.outcome,
        outcome_after=after.outcome,
        lifted=tuple(lifted),
        added=_left_out(_tightened(before.limits, after.limits), rulebook),
        stays=(
            *(f"“{one.says}” still asks for a letter." for one in _first(after, open_after)),
            *_until_ended(entered),
        ),
    )


def _first(found: Screened, rule_ids: Collection[str]) -> list[ScreenReason]:
    """One reason for each rule, in the order of the gates."""
    seen: dict[str, ScreenReason] = {}
    for one in found.reasons:
        if one.rule_id in rule_ids:
            seen.setdefault(one.rule_id, one)
    return list(seen.values())


def _relaxed(before: Screened, after: Screened, until: date, rulebook: Rulebook) -> list[str]:
    held = {limit.demand for limit in before.limits}
    new = {one.demand for one in after.relaxed} - {one.demand for one in before.relaxed}
    return [
        f"{rulebook.demands[one].name}: no limit until {_day(until)}." for one in rulebook.demands if one in new & held
    ]


def _tightened(before: Iterable[LimitFound], after: Iterable[LimitFound]) -> frozenset[str]:
    held = {(limit.demand, limit.side): LEVELS.index(limit.level) for limit in before}
    return frozenset(
        limit.demand for limit in after if LEVELS.index(limit.level) < held.get((limit.demand, limit.side), len(LEVELS))
    )


def _left_out(demands: Collection[str], rulebook: Rulebook) -> tuple[str, ...]:
    return tuple(f"{rulebook.demands[one].name}: left out." for one in rulebook.demands if one in demands)


def _until_ended(entered: Entered) -> tuple[str, ...]:
    if not entered.forbids:
        return ()
    return ("What the letter leaves out stays left out after its date too, until one of you ends it by name.",)


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
