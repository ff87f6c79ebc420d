"""A series or a template on one machine and on another: what to hook, what to unhook, and how it will feel."""

from collections.abc import Sequence
from dataclasses import dataclass

from programming.rules.lines import Line, whole_exercises
from programming.rules.springs import (
    DEFAULT_WEIGHTS,
    SpringSet,
    Translation,
    change_words,
    error_words,
    felt,
    translate,
)
from studio.rules import ApparatusKind, Reason, Refused


@dataclass(frozen=True)
class Translated:
    """One line on a machine. `hooked` is None for a row that uses no springs of this machine.

    `error` is in units above (+) or below (-) the aim; `deed` is what to do at the machine before the line; `others`
    are sets as good, in series as good and as short, for the teacher to choose from; `felt` says what the error does.
    """

    line: Line
    hooked: SpringSet | None
    error: int = 0
    deed: str = ""
    others: tuple[SpringSet, ...] = ()
    is_forced: bool = False
    is_impossible: bool = False

    @property
    def says(self) -> str:
        """The error in words: `as planned`, or `one unit heavier: harder`; the nearest set says that it is that."""
        if self.hooked is None:
            return ""
        effect = felt(self.line.row.spring_effect, self.error)
        words = error_words(self.error) + (f": {effect}" if effect else "")
        return f"nearest there is, {words}" if self.is_impossible else words


def translated(lines: Sequence[Line], inventory: SpringSet) -> tuple[Translated, ...]:
    """Every line on a reformer with these springs, whole exercises at a time, in order; deeds from line to line.

    Raises Refused `no_springs` when the machine carries none and a line needs some.
    """
    found: list[Translated] = []
    for run in whole_exercises(lines):
        found.extend(_run(run, inventory))
    return tuple(_with_deeds(found))


def _run(run: Sequence[Line], inventory: SpringSet) -> list[Translated]:
    if run[0].row.apparatus is not ApparatusKind.REFORMER or run[0].springs is None:
        return [Translated(line, None) for line in run]
    if not inventory.count:
        raise Refused(Reason("no_springs", "This machine carries no springs.", "machine", "a machine with springs"))
    whole = translate([line.springs or 0 for line in run], inventory)
    return [_one(line, at, whole) for at, line in enumerate(run)]


def _one(line: Line, at: int, whole: Translation) -> Translated:
    hooked = whole.sets[at]
    others = dict.fromkeys(tie[at] for tie in whole.ties if tie[at] != hooked)
    return Translated(
        line,
        hooked,
        error=whole.errors[at],
        others=tuple(others),
        is_forced=whole.forced,
        is_impossible=at in whole.impossible,
    )


def _with_deeds(found: Sequence[Translated]) -> list[Translated]:
    before: SpringSet | None = None
    out = []
    for one in found:
        deed = change_words(before, one.hooked) if one.hooked is not None else ""
        out.append(Translated(one.line, one.hooked, one.error, deed, one.others, one.is_forced, one.is_impossible))
        before = one.hooked if one.hooked is not None else before
    return out


def moved(there: Translated, here: Translated) -> str:
    """From one machine to another, the same line: units apart and what that does; empty where it uses no springs."""
    if there.hooked is None or here.hooked is None:
        return ""
    units = here.hooked.units(DEFAULT_WEIGHTS) - there.hooked.units(DEFAULT_WEIGHTS)
    if not units:
        return "the same units"
    effect = felt(here.line.row.spring_effect, units)
    return f"{error_words(units)}: {effect}"
