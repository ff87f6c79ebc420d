"""Springs across machines: a reference count of four alike springs, translated to what a real machine has."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from programming.rules.repertoire import ExerciseRow, SpringEffect

REFERENCE_UNITS = 2
TOLERANCE = 1
TIES_SHOWN = 6
CLASSES = ("heavy", "medium", "light")
_LETTERS = {"heavy": "H", "medium": "M", "light": "L"}
_COUNT_WORDS = ("no", "one", "two", "three", "four", "five", "six")


@dataclass(frozen=True)
class SpringSet:
    """Springs by stiffness class: the ones hooked, or all a machine has (its inventory)."""

    heavy: int = 0
    medium: int = 0
    light: int = 0

    @classmethod
    def of(cls, letters: str) -> "SpringSet":
        """From letters, as `HMML`. Raises ValueError for any other letter."""
        if set(letters) - set("HML"):
            raise ValueError(f"springs are written H, M and L, not {letters!r}")
        return cls(letters.count("H"), letters.count("M"), letters.count("L"))

    @property
    def letters(self) -> str:
        return "H" * self.heavy + "M" * self.medium + "L" * self.light

    @property
    def count(self) -> int:
        return self.heavy + self.medium + self.light

    @property
    def words(self) -> str:
        """`one heavy, two medium and one light`; `no springs` when empty."""
        return _listed([(getattr(self, name), name) for name in CLASSES]) or "no springs"

    def units(self, weights: "Weights") -> int:
        return self.heavy * weights.heavy + self.medium * weights.medium + self.light * weights.light

    def within(self, other: "SpringSet") -> bool:
        """Reached from `other` by removing springs only, or equal to it."""
        return self.heavy <= other.heavy and self.medium <= other.medium and self.light <= other.light


@dataclass(frozen=True)
class Weights:
    """Relative units of a class; one reference spring is two (studio_default)."""

    heavy: int = 3
    medium: int = 2
    light: int = 1


DEFAULT_WEIGHTS = Weights()


@dataclass(frozen=True)
class Translation:
    """A series of reference counts on one machine.

    `errors` are units above (+) or below (-) the aim, one a part. `forced` tells that the step-down cannot be made by
    unhooking alone; `impossible` are the places where no set is within tolerance and the nearest is given. `ties` are
    other series as good and as short, for the instructor to choose from.
    """

    sets: tuple[SpringSet, ...]
    errors: tuple[int, ...]
    forced: bool
    impossible: tuple[int, ...]
    ties: tuple[tuple[SpringSet, ...], ...]


@cache
def hookings(inventory: SpringSet) -> tuple[SpringSet, ...]:
    """Every set of at least one spring that the machine can hook."""
    ranges = (range(inventory.heavy + 1), range(inventory.medium + 1), range(inventory.light + 1))
    return tuple(SpringSet(*counts) for counts in itertools.product(*ranges) if any(counts))


def error_of(reference: int, hooked: SpringSet, weights: Weights = DEFAULT_WEIGHTS) -> int:
    """Units above (+) or below (-) the aim of a reference count."""
    return hooked.units(weights) - reference * REFERENCE_UNITS


def fitting_sets(
    reference: int, inventory: SpringSet, *, weights: Weights = DEFAULT_WEIGHTS, tolerance: int = TOLERANCE
) -> tuple[SpringSet, ...]:
    """Sets within tolerance of a reference count; empty when the machine has none. No springs for a count of 0."""
    if reference == 0:
        return (SpringSet(),)
    return tuple(hooked for hooked in hookings(inventory) if abs(error_of(reference, hooked, weights)) <= tolerance)


def _nearest(reference: int, inventory: SpringSet, weights: Weights) -> tuple[SpringSet, ...]:
    every = hookings(inventory)
    least = min((abs(error_of(reference, hooked, weights)) for hooked in every), default=0)
    return tuple(hooked for hooked in every if abs(error_of(reference, hooked, weights)) == least)


@dataclass(frozen=True)
class _Path:
    """A series so far and what it costs: steps not made by unhooking, total error, springs, then tie-break."""

    sets: tuple[SpringSet, ...]
    added: int
    error: int
    springs: int

    @property
    def cost(self) -> tuple[int, int, int]:
        return (self.added, self.error, self.springs)

    @property
    def order(self) -> tuple[tuple[int, int], ...]:
        """Among equals the set with the heavier springs comes first, so that the answer is always the same."""
        return tuple((-hooked.heavy, -hooked.medium) for hooked in self.sets)


def _broken_step(before: SpringSet, after: SpringSet, *, fell: int) -> bool:
    """Equal references keep the set, falling ones remove at least one spring, rising ones begin a new step-down."""
    if fell < 0:
        return False
    if fell == 0:
        return before != after
    return before == after or not after.within(before)


def _extended(
    paths: Sequence[_Path], options: Sequence[SpringSet], *, reference: int, fell: int, weights: Weights
) -> list[_Path]:
    """The cheapest ways to each option, keeping a few equal ones as ties."""
    out: list[_Path] = []
    for hooked in options:
        ways = [
            _Path(
                (*path.sets, hooked),
                path.added + int(_broken_step(path.sets[-1], hooked, fell=fell) if path.sets else False),
                path.error + abs(error_of(reference, hooked, weights)),
                path.springs + hooked.count,
            )
            for path in paths
        ]
        least = min(way.cost for way in ways)
        best = sorted((way for way in ways if way.cost == least), key=lambda way: way.order)
        out.extend(best[:TIES_SHOWN])
    return out


def translate(
    references: Sequence[int],
    inventory: SpringSet,
    *,
    weights: Weights = DEFAULT_WEIGHTS,
    tolerance: int = TOLERANCE,
) -> Translation:
    """The set for each part of one exercise: least total error by removal only, then fewest springs over the series.

    Raises ValueError for an empty inventory with a part that needs springs.
    """
    paths, impossible = [_Path((), 0, 0, 0)], []
    for place, reference in enumerate(references):
        options = fitting_sets(reference, inventory, weights=weights, tolerance=tolerance)
        if not options:
            impossible.append(place)
            options = _nearest(reference, inventory, weights)
        if not options:
            raise ValueError("this machine has no springs")
        fell = references[place - 1] - reference if place else 0
        paths = _extended(paths, options, reference=reference, fell=fell, weights=weights)
    paths.sort(key=lambda path: (path.cost, path.order))
    best = paths[0]
    return Translation(
        sets=best.sets,
        errors=tuple(error_of(r, hooked, weights) for r, hooked in zip(references, best.sets, strict=True)),
        forced=best.added > 0,
        impossible=tuple(impossible),
        ties=tuple(path.sets for path in paths[1:TIES_SHOWN] if path.cost == best.cost),
    )


def _listed(parts: Sequence[tuple[int, str]]) -> str:
    words = [f"{_counted(count)} {name}" for count, name in parts if count]
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1] if words else ""


def _counted(count: int) -> str:
    return _COUNT_WORDS[count] if count < len(_COUNT_WORDS) else str(count)


def change_words(before: SpringSet | None, after: SpringSet | None) -> str:
    """What to do at the machine between two lines, naming the class: `Unhook one medium`, `Springs stay`.

    None means nothing is known to be hooked (before) or the line has no springs (after).
    """
    have, want = before or SpringSet(), after or SpringSet()
    if have == want:
        return "Springs stay" if have.count else "No springs"
    if not want.count:
        return "Unhook all springs"
    off = _listed([(max(0, getattr(have, name) - getattr(want, name)), name) for name in CLASSES])
    on = _listed([(max(0, getattr(want, name) - getattr(have, name)), name) for name in CLASSES])
    if off and on:
        return f"Unhook {off}, hook {on}"
    return f"Unhook {off}" if off else f"Hook {on}"


def error_words(error: int) -> str:
    """How far a set is from the aim: `as planned`, `one unit lighter`, `two units heavier`."""
    if error == 0:
        return "as planned"
    size = f"{_counted(abs(error))} unit{'s' if abs(error) > 1 else ''}"
    return f"{size} {'heavier' if error > 0 else 'lighter'}"


def felt(effect: SpringEffect, change: int) -> str:
    """What more spring (+) or less (-) does to the work: `harder`, `easier`, `usually easier`; empty for no change."""
    if not change:
        return ""
    if effect in (SpringEffect.FIX, SpringEffect.NONE):
        return "no change of work"
    more = {SpringEffect.RESIST: "harder", SpringEffect.ASSIST: "easier", SpringEffect.MIXED: "usually easier"}
    fewer = {SpringEffect.RESIST: "easier", SpringEffect.ASSIST: "harder", SpringEffect.MIXED: "usually harder"}
    return (more if change > 0 else fewer)[effect]


def own_springs(row: ExerciseRow, count: int) -> SpringSet:
    """Springs of an apparatus that has its own kind: `count` of the class its set-up names.

    A choice of two classes is read as the lighter; a chair names none and counts as medium (studio_default).
    """
    if row.setup.get("class", "medium") == "medium":
        return SpringSet(medium=count)
    return SpringSet(light=count)
