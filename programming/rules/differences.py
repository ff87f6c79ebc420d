"""What a new fit would change in a program, line by line, and which of the old lines may stay."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from programming.rules import by_hand
from programming.rules.by_hand import Chosen


@dataclass(frozen=True)
class Difference:
    """One line that a new fit would do otherwise. `why_not` says why the old one may not stay; empty when it may.

    `is_by_hand`: a teacher chose the old one herself, so that it stays unless somebody takes the new one.
    """

    position: int
    before: Chosen
    after: Chosen
    why_not: str
    is_by_hand: bool

    @property
    def may_stay(self) -> bool:
        return not self.why_not


def differences(
    before: Sequence[Chosen], after: Sequence[Chosen], facts: by_hand.Facts, *, by_hand_at: Collection[int] = ()
) -> tuple[Difference, ...]:
    """The lines that differ, in order. Both are the lines of one template, so that they stand position for position.

    An old line may stay when it is allowed now, with the old lines before it that may stay and the new ones where they
    may not.
    """
    found: list[Difference] = []
    done: set[str] = set()
    for position, (old, new) in enumerate(zip(before, after, strict=True), 1):
        why_not = by_hand.refusal(old, done, facts)
        if old.key == new.key:
            why_not = ""
        else:
            found.append(Difference(position, old, new, why_not, position in by_hand_at))
        kept = new if why_not else old
        done |= {kept.line.row.id} if kept.line else set()
    return tuple(found)


def mixed(
    before: Sequence[Chosen], after: Sequence[Chosen], found: Sequence[Difference], accepted: Collection[int]
) -> list[Chosen]:
    """The program that comes of taking the new line at the accepted positions, and where the old one may not stay.

    An exercise that would then be done twice, though the plan has it once, is kept where it is old and left out where
    it is new.
    """
    taken = {one.position for one in found if one.position in accepted or not one.may_stay}
    lines = [new if place in taken else old for place, (old, new) in enumerate(zip(before, after, strict=True), 1)]
    kept = [one.line.row.id for place, one in enumerate(lines, 1) if one.line and place not in taken]
    planned = [one.planned.row.id for one in before]
    for place in sorted(taken):
        one = lines[place - 1]
        if one.line is not None and one.line.row.id in kept and planned.count(one.line.row.id) < 2:
            lines[place - 1] = Chosen(one.planned)
        elif one.line is not None:
            kept.append(one.line.row.id)
    return lines
