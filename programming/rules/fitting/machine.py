"""States of the machine between lines, numbered, and what it takes to go from one to the next."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from programming.rules.lines import Line
from programming.rules.timing import changes_between

# One change of springs outweighs every change of set-up: a line changes at most five things, a plan has under 800.
SPRINGS = 4096
NOWHERE = -1
Exercise = tuple[object, ...]


def exercise_of(line: Line) -> Exercise:
    """What parts of one exercise have in common."""
    return (line.row.apparatus, line.row.series, line.row.exercise)


@dataclass(slots=True)
class Machine:
    """The states met so far. `parted` are exercises with more than one part in the plan: there the part counts too.

    `parts_only` leaves aside what has to be changed, and asks only whether one part may follow another.
    """

    parted: frozenset[Exercise]
    parts_only: bool = False
    known: dict[tuple[object, ...], int] = field(default_factory=dict)
    shown: list[tuple[Line, int, bool]] = field(default_factory=list)
    asked: dict[tuple[int, int], int | None] = field(default_factory=dict)

    def state(self, line: Line, place: int, *, is_own: bool) -> int:
        """The number of the state in which `line` leaves the machine when it is done at `place`."""
        row, exercise = line.row, exercise_of(line)
        part = (row.position_in_series, place, is_own, exercise) if exercise in self.parted else ()
        key: tuple[object, ...] = (line.springs, part) if part else ()
        if not self.parts_only:
            setup = line.setup.items() if line.plan.setup else row.setup.items()
            key = (row.apparatus, line.springs, tuple(setup), row.start_position, part)
        found = self.known.get(key)
        if found is None:
            found = self.known[key] = len(self.shown)
            self.shown.append((line, place, is_own))
        return found

    def change(self, before: int, after: int) -> int | None:
        """Changes of springs and set-up as one number (see `told`); None where parts of one exercise would stand wrong.

        Parts that the template itself puts side by side are its own affair.
        """
        if before == NOWHERE:
            return 0
        pair = (before, after)
        if pair not in self.asked:
            self.asked[pair] = self._change(before, after)
        return self.asked[pair]

    def _change(self, before: int, after: int) -> int | None:
        (line, place, is_own), (then, then_place, then_own) = self.shown[before], self.shown[after]
        side_by_side = is_own and then_own and then_place == place + 1
        if not side_by_side and exercise_of(line) in self.parted and line.same_exercise(then):
            rises = (then.springs or 0) > (line.springs or 0)
            if rises or then.row.position_in_series <= line.row.position_in_series:
                return None
        if self.parts_only:
            return 0
        found = changes_between(line, then)
        return found.springs * SPRINGS + found.total - found.springs


def told(changes: int) -> tuple[int, int]:
    """Changes of springs, and of set-up."""
    return divmod(changes, SPRINGS)


def parted(lines: Iterable[tuple[int, Line]]) -> frozenset[Exercise]:
    """Exercises that occur at more than one place."""
    places: dict[Exercise, set[int]] = {}
    for place, line in lines:
        places.setdefault(exercise_of(line), set()).add(place)
    return frozenset(exercise for exercise, where in places.items() if len(where) > 1)
