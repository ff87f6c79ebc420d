"""What a group plan is made of: options, rounds, and what the whole costs."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

MOST_PEOPLE = 6
MOST_AHEAD = 2
# The sum of the supervision figures may be so much above the number of people (domain rule of groups).
SPARE_EYES = 2
NEEDS_HANDS = 3


@dataclass(frozen=True)
class Option:
    """One way for one person to do one line.

    `form` is what has to be said: equal forms of one line are one instruction. `items` are the shared items it needs,
    one of each kind. `changed` is 1 when it is not as planned, `nearness` 0 for the planned exercise, else 1 to 3.
    """

    form: str
    supervision: int = 1
    items: frozenset[str] = frozenset()
    changed: int = 0
    nearness: int = 0
    deciseconds: int = 0

    def __post_init__(self) -> None:
        if not self.form:
            raise ValueError("a form needs words")
        if not 1 <= self.supervision <= NEEDS_HANDS:
            raise ValueError("a supervision figure is 1, 2 or 3")


class GroupCost(NamedTuple):
    """The goals in their order; `instructions` are the separate ones, those above one a line."""

    left_out: int = 0
    instructions: int = 0
    changed: int = 0
    nearness: int = 0
    rounds: int = 0
    deciseconds: int = 0


@dataclass(frozen=True)
class Begun:
    """What one person begins in a round: a line by its place from 0, and how; no option means she leaves it out."""

    line: int
    option: Option | None


@dataclass(frozen=True)
class Round:
    """One round: what each person begins, None for who waits."""

    begun: tuple[Begun | None, ...]
    deciseconds: int

    @property
    def instructions(self) -> int:
        """Different things to say at its beginning."""
        return len({(one.line, one.option.form if one.option else "") for one in self.begun if one})

    @property
    def supervision(self) -> int:
        """The sum of the figures; who waits or rests counts as one."""
        return sum(one.option.supervision if one and one.option else 1 for one in self.begun)

    @property
    def items(self) -> Mapping[str, int]:
        """How many of each shared item are in use."""
        used: dict[str, int] = {}
        for one in self.begun:
            for kind in one.option.items if one and one.option else ():
                used[kind] = used.get(kind, 0) + 1
        return used


@dataclass(frozen=True)
class Shared:
    """The best plan: its rounds in order, and its cost. No plan costs less."""

    rounds: tuple[Round, ...]
    cost: GroupCost
    people: int
    chosen: Mapping[tuple[int, int], Option | None] = field(hash=False)

    def option(self, line: int, person: int) -> Option | None:
        """What she does at a line; None when it is left out."""
        return self.chosen[line, person]
