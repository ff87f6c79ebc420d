"""What a fitted program is: each line with what became of it and why, and what the whole costs."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from clients.rules.outcomes import Level
from programming.rules.marks import Decision
from programming.rules.springs import SpringSet
from programming.rules.timing import SetUpChanges

LEVEL_ORDER = (Level.AVOID, Level.ADAPT, Level.WATCH)


class Rule(StrEnum):
    """Why a limited demand led to what was done; the words go between demand and source on the why line."""

    INTRINSIC = "cannot be taken out of this exercise"
    TAKEN_OUT = "taken out by the easier form"
    BROUGHT_IN = "brought in by the easier form"
    CHANGED_FORM = "done in the changed form"
    WATCHED = "watched; stop at symptoms"


@dataclass(frozen=True)
class LimitFact:
    """A client's limit on one demand: `because` holds condition ids, `how` the changed form in words."""

    level: Level
    because: tuple[str, ...] = ()
    how: str = ""
    source_ids: tuple[str, ...] = ()


@dataclass(frozen=True)
class Why:
    """One step of a why line: condition (`because`) → `demand` → `rule` → source. `exercise_id` says of which row."""

    exercise_id: str
    demand: str
    level: Level
    rule: Rule
    because: tuple[str, ...]
    source_ids: tuple[str, ...]
    how: str


@dataclass(frozen=True)
class FittedLine:
    """What became of one planned line; `exercise_id` is None when it was left out.

    `form` is the changed form in words, empty when unchanged. `demands` are those of the form chosen. `reps` counts as
    the row counts, `seconds` is the time model's, both 0 for a line left out; where the plan names no number `reps` is
    the middle of the range rounded down while `seconds` keeps the exact middle. `spring_error` is in units, + heavier.
    `steps` are the codes of the ladder steps it is done with: the easier form, then the set-ups of this body; `setup`
    are those set-ups in words for the sheet. `notes` say in words what else than a limit decided: no time left, no
    springs near enough, a level too high, something to be learned first, a waiver that is asked for.
    """

    planned_id: str
    planned_exercise_id: str
    exercise_id: str | None
    decision: Decision
    why: tuple[Why, ...]
    form: str
    lost_purposes: tuple[str, ...]
    demands: frozenset[str]
    springs: SpringSet | None
    spring_error: int
    reps: int
    seconds: float
    is_new: bool
    steps: tuple[str, ...] = ()
    setup: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


class Cost(NamedTuple):
    """The soft goals in their order, each to be as small as the ones before allow. `empty` is in deciseconds."""

    changed: int = 0
    replaced: int = 0
    left_out: int = 0
    nearness: int = 0
    lost_aims: int = 0
    opposition: int = 0
    spring_changes: int = 0
    set_up_changes: int = 0
    empty: int = 0


NO_COST = Cost()
NO_CHANGES = SetUpChanges()


@dataclass(frozen=True)
class FittedProgram:
    """The fitted lines in the planned order, the whole lesson in minutes, and warnings in words.

    `lost_aims` are aims of the template that no line serves any more. `cost` is what the soft goals came to, and
    `is_proven` that nothing cheaper exists; `bound` is what every program costs at least, the cost when proven.
    `blocks_most` says, when no line could stay, which demands to avoid keep how many planned lines out, the worst
    first. `changes` are those of set-up from line to line.
    """

    lines: tuple[FittedLine, ...]
    minutes: float
    warnings: tuple[str, ...]
    lost_aims: tuple[str, ...] = ()
    is_proven: bool = True
    cost: Cost = NO_COST
    bound: Cost = NO_COST
    blocks_most: tuple[tuple[str, int], ...] = ()
    changes: SetUpChanges = NO_CHANGES
