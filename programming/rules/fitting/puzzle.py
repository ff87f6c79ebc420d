"""The options of a plan in whole numbers: one step a line, one choice a candidate, conditions between lines as bits.

Bits are kept so that fewer of them never hurt: one for an exercise that is still lacking, one for a stand-in that is
used, one for the way a pool goes. Lines that leave no choice are drawn together into one step.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import compress
from typing import NamedTuple

from programming.rules.fitting.candidates import LEFT_OUT, Candidate, Given, Options, SharedReps
from programming.rules.fitting.machine import NOWHERE, Machine, parted
from programming.rules.fitting.pooled import Variant, variants
from programming.rules.lines import Line

# Flexion rows running that need nothing against them, and flexion rows that one extension row answers (V9).
RUN, ANSWERED = 3, 4
STAYS = tuple((0, run) for run in range(RUN + 1))
ENDS = tuple((0, 0) for _ in range(RUN + 1))
GOES_ON = (*((0, run + 1) for run in range(RUN)), (1, RUN))
# Lines that may be left out: as planned, in their easier form, out.
Spare = tuple[int, int, int]
NONE: Spare = (0, 0, 0)
KINDS: tuple[Spare, ...] = ((1, 0, 0), (0, 1, 0), (0, 0, 1))


class Choice(NamedTuple):
    """One choice of a step. `spares` says what kind of line it leaves out.

    `enter` and `leave` are states of the machine, NOWHERE when nothing is done, `inner` the changes between them.
    `runs` gives for each run of flexion rows before it (rows too many, run after it); `rounding` is flexion minus four
    times extension. `forbids`, `clears` and `puts` are bits; of each of `lacks` one bit has to be cleared before.
    """

    spares: Spare
    near: int
    resource: int
    seconds: int
    aims: int
    enter: int
    leave: int
    inner: int
    rounding: int
    runs: tuple[tuple[int, int], ...]
    forbids: int
    clears: int
    puts: int
    lacks: tuple[int, ...]
    done: tuple[Variant, ...]

    @property
    def is_free(self) -> bool:
        """Whether it neither asks nor tells anything of other lines."""
        return not (self.forbids or self.clears or self.puts or self.lacks or any(self.spares))


@dataclass(slots=True)
class Puzzle:
    """Steps with their choices and the bits that still matter after each. `aims` are those that may be lost."""

    steps: list[list[Choice]]
    keeps: list[int]
    start: int
    aims: int
    lost_for_sure: int
    machine: Machine

    def only(self, kept: Sequence[Sequence[bool]]) -> "Puzzle":
        """The same puzzle with fewer choices: those kept."""
        steps = [list(compress(step, keep)) for step, keep in zip(self.steps, kept, strict=True)]
        steps = _drawn_together(steps, self.machine)
        return replace(self, steps=steps, keeps=_keeps(steps))


def puzzle(
    options: Sequence[Options], shared: Sequence[SharedReps], given: Given, spare: Spare, *, hard_only: bool = False
) -> Puzzle:
    """The puzzle of a plan in which of each kind of line only so many may be left out.

    `hard_only` leaves aside what only aims, opposition and changes of set-up ask.
    """
    listed = [_candidates(option, spare) for option in options]
    names = _Names(listed, given, hard_only=hard_only)
    pooled = variants([option.planned for option in options], listed, shared, names.bit)
    lacks = [[names.lacks(place, one.candidate) for one in line] for place, line in enumerate(pooled.lines)]
    steps = [
        [
            names.choice(place, one, kind_of(options[place]), needed)
            for one, needed in zip(line, lacks[place], strict=True)
            if needed is not None
        ]
        for place, line in enumerate(pooled.lines)
    ]
    at_risk, lost = _aims(steps, [names.aims_of(option.planned) for option in options])
    steps = _drawn_together(steps, names.machine)
    return Puzzle(steps, _keeps(steps), pooled.start | names.start, at_risk, lost, names.machine)


def kind_of(option: Options) -> Spare:
    """What is spared when the line is left out; nothing when there is no choice."""
    if not option.own:
        return KINDS[2] if option.stand_ins else NONE
    return KINDS[0] if option.stays_as_planned else KINDS[1]


def _candidates(option: Options, spare: Spare) -> list[Candidate]:
    found = [*option.own, *option.stand_ins]
    may_go = any(kind and many for kind, many in zip(kind_of(option), spare, strict=True))
    return [*found, LEFT_OUT] if may_go or not found else found


def resource_of(line: Line) -> str:
    """What a stand-in uses up: itself, or its pool, of which one part may stand in."""
    return line.row.rep_pool or line.row.id


class _Names:
    """Numbers for what lines have to do with each other."""

    def __init__(self, listed: Sequence[Sequence[Candidate]], given: Given, *, hard_only: bool) -> None:
        self.given, self.hard_only = given, hard_only
        self.bits: dict[object, int] = {}
        self.aims: dict[str, int] = {}
        self.start = 0
        self.sure, self.maybe = _providers(listed)
        self.resources = _wanted_twice(listed)
        placed = [(place, one.line) for place, line in enumerate(listed) for one in line if one.line]
        self.machine = Machine(parted(placed), hard_only)

    def bit(self, name: object) -> int:
        return self.bits.setdefault(name, 1 << len(self.bits))

    def lacks(self, place: int, candidate: Candidate) -> tuple[int, ...] | None:
        """Bits of which one each has to be cleared before; None when one never can be."""
        found = []
        for group in candidate.needs:
            if any(self.sure.get(name, place) < place for name in group):
                continue
            before = [name for name in group if self.maybe.get(name, place) < place]
            if not before:
                return None
            bits = sum(self.bit(("lacking", name)) for name in before)
            self.start |= bits
            found.append(bits)
        return tuple(found)

    def aims_of(self, line: Line) -> int:
        if self.hard_only:
            return 0
        return sum(self.aims.setdefault(aim, 1 << len(self.aims)) for aim in set(line.row.purpose))

    def choice(self, place: int, one: Variant, spares: Spare, lacks: tuple[int, ...]) -> Choice:
        line, form = one.line, one.candidate.form
        if line is None or form is None:
            return Choice(
                spares, 0, NOWHERE, 0, 0, NOWHERE, NOWHERE, 0, 0, STAYS, one.forbids, one.clears, one.puts, one.lacks,
                (one,),
            )  # fmt: skip
        resource = self.resources.get(resource_of(line), NOWHERE) if one.candidate.nearness else NOWHERE
        used = self.bit(("used", resource)) if resource != NOWHERE else 0
        state = self.machine.state(line, place, is_own=one.is_own)
        soft = not self.hard_only
        return Choice(
            spares=NONE,
            near=one.candidate.nearness,
            resource=resource,
            seconds=self.given.deciseconds(line),
            aims=self.aims_of(line),
            enter=state,
            leave=state,
            inner=0,
            rounding=soft * (form.is_flexion - ANSWERED * form.is_extension),
            runs=GOES_ON if soft and form.is_flexion and not form.is_extension else ENDS,
            forbids=one.forbids | used,
            clears=one.clears | (self.bits.get(("lacking", line.row.id), 0) if one.is_own else 0),
            puts=one.puts | used,
            lacks=(*one.lacks, *lacks),
            done=(one,),
        )


def _wanted_twice(listed: Sequence[Sequence[Candidate]]) -> dict[str, int]:
    """A number for everything that may stand in at more than one place: it does so once."""
    places: dict[str, set[int]] = {}
    for place, candidates in enumerate(listed):
        for one in candidates:
            if one.nearness and one.line:
                places.setdefault(resource_of(one.line), set()).add(place)
    return {name: number for number, name in enumerate(name for name, where in places.items() if len(where) > 1)}


def _providers(listed: Sequence[Sequence[Candidate]]) -> tuple[dict[str, int], dict[str, int]]:
    """The first place at which an exercise is surely done as planned for, and the first at which it may be."""
    sure: dict[str, int] = {}
    maybe: dict[str, int] = {}
    for place, candidates in enumerate(listed):
        own = [one.line.row.id for one in candidates if one.line and not one.nearness]
        if own and len(own) == len(candidates):
            sure.setdefault(own[0], place)
        if own:
            maybe.setdefault(own[0], place)
    return sure, maybe


def _aims(steps: Sequence[Sequence[Choice]], planned: Sequence[int]) -> tuple[int, int]:
    """Aims of the template that some ways serve and some do not, and how many are lost whatever is done."""
    wanted = sure = maybe = 0
    for step, aims in zip(steps, planned, strict=True):
        wanted |= aims
        always = ~0
        for choice in step:
            maybe |= choice.aims
            always &= choice.aims
        sure |= always if step else 0
    return wanted & maybe & ~sure, (wanted & ~maybe).bit_count()


def _keeps(steps: Sequence[Sequence[Choice]]) -> list[int]:
    """The bits that some later step asks for, after each step."""
    keeps, asked = [], 0
    for step in reversed(steps):
        keeps.append(asked)
        for choice in step:
            asked |= choice.forbids
            for bits in choice.lacks:
                asked |= bits
    return keeps[::-1]


def _drawn_together(steps: Sequence[list[Choice]], machine: Machine) -> list[list[Choice]]:
    """Neighbouring steps of one free choice made one."""
    found: list[list[Choice]] = []
    for step in steps:
        both = _both(found[-1], step, machine) if found else None
        if both is None:
            found.append(step)
        else:
            found[-1] = [both]
    return found


def _both(before: Sequence[Choice], after: Sequence[Choice], machine: Machine) -> Choice | None:
    """Two steps as one; None when one of them leaves a choice, asks or tells something, or they cannot follow."""
    if len(before) != 1 or len(after) != 1 or not before[0].is_free or not after[0].is_free:
        return None
    first, second = before[0], after[0]
    change = machine.change(first.leave, second.enter) if second.enter != NOWHERE else 0
    if change is None:
        return None
    runs = tuple((more + second.runs[run][0], second.runs[run][1]) for more, run in first.runs)
    return first._replace(
        near=first.near + second.near,
        seconds=first.seconds + second.seconds,
        aims=first.aims | second.aims,
        enter=second.enter if first.enter == NOWHERE else first.enter,
        leave=first.leave if second.leave == NOWHERE else second.leave,
        inner=first.inner + second.inner + change,
        rounding=first.rounding + second.rounding,
        runs=runs,
        done=first.done + second.done,
    )
