"""Geometry of the spring rail: a lesson's time as one rail, each line's springs hanging from it as strands."""

from collections.abc import Sequence
from dataclasses import dataclass

from programming.rules.marks import Decision
from programming.rules.springs import SpringSet
from studio.rules import ApparatusKind

TICK_MINUTES = 5
LABEL_MINUTES = 10
# Heavy strands first; a wider class takes more of the line's width, so that its strand does not touch its neighbour.
STRAND_ROOM = (("h", 5.0), ("m", 4.0), ("l", 3.0))


@dataclass(frozen=True)
class RailLine:
    """One line as the rail needs it: seconds on the clock, the springs hooked, and the group its bracket names."""

    planned_id: str
    label: str
    group: str
    apparatus: ApparatusKind
    decision: Decision
    seconds: float
    springs: SpringSet | None = None


@dataclass(frozen=True)
class Strand:
    """One spring: class `l`, `m` or `h`, at a percentage of the rail."""

    kind: str
    at: float


@dataclass(frozen=True)
class Segment:
    """One line on the rail, in percent of it. A line left out has no width; it marks the place it would have had.

    `minute` is when it starts. `begins_apparatus` asks for a tick: the line before is on another apparatus.
    """

    planned_id: str
    label: str
    kind: Decision
    start: float
    width: float
    minute: float
    strands: tuple[Strand, ...]
    apparatus: ApparatusKind
    begins_apparatus: bool

    @property
    def end(self) -> float:
        return self.start + self.width


@dataclass(frozen=True)
class Bracket:
    """Neighbouring lines of one group, in percent of the rail."""

    label: str
    start: float
    width: float


@dataclass(frozen=True)
class Tick:
    minute: int
    at: float
    is_labelled: bool


@dataclass(frozen=True)
class Rail:
    """A whole rail. `arrival`, the segments, `close` and `spare` share 100 percent.

    `minutes` is what 100 percent stand for: the slot, or the lesson when that is longer; `over` is the percentage that
    lies beyond the slot.
    """

    segments: tuple[Segment, ...]
    brackets: tuple[Bracket, ...]
    ticks: tuple[Tick, ...]
    arrival: float
    close: float
    spare: float
    over: float
    minutes: float


def rail(lines: Sequence[RailLine], *, slot_seconds: float, arrival: float = 0, close: float = 0) -> Rail:
    """The rail of a lesson; all times in seconds, all places in percent. Raises ValueError for a slot of no time."""
    if slot_seconds <= 0:
        raise ValueError("a rail needs a slot")
    total = arrival + sum(line.seconds for line in lines) + close
    full = max(slot_seconds, total)
    segments = _segments(lines, full=full, clock=arrival)
    return Rail(
        segments=segments,
        brackets=_brackets(lines, segments),
        ticks=_ticks(full),
        arrival=_percent(arrival, full),
        close=_percent(close, full),
        spare=_percent(max(0.0, slot_seconds - total), full),
        over=_percent(max(0.0, total - slot_seconds), full),
        minutes=full / 60,
    )


def _percent(seconds: float, full: float) -> float:
    return 100 * seconds / full


def _segments(lines: Sequence[RailLine], *, full: float, clock: float) -> tuple[Segment, ...]:
    out: list[Segment] = []
    for line in lines:
        start, width = _percent(clock, full), _percent(line.seconds, full)
        out.append(
            Segment(
                planned_id=line.planned_id,
                label=line.label,
                kind=line.decision,
                start=start,
                width=width,
                minute=clock / 60,
                strands=_strands(line.springs, start=start, width=width),
                apparatus=line.apparatus,
                begins_apparatus=bool(out) and out[-1].apparatus is not line.apparatus,
            )
        )
        clock += line.seconds
    return tuple(out)


def _strands(springs: SpringSet | None, *, start: float, width: float) -> tuple[Strand, ...]:
    """Strands spread over the inside of a segment, heaviest first, each in room of its class."""
    if springs is None or not width:
        return ()
    counts = dict(zip("hml", (springs.heavy, springs.medium, springs.light), strict=True))
    rooms = [(kind, room) for kind, room in STRAND_ROOM for _ in range(counts[kind])]
    full = sum(room for _, room in rooms)
    out, passed = [], 0.0
    for kind, room in rooms:
        out.append(Strand(kind, start + width * (passed + room / 2) / full))
        passed += room
    return tuple(out)


def _brackets(lines: Sequence[RailLine], segments: Sequence[Segment]) -> tuple[Bracket, ...]:
    out: list[Bracket] = []
    for line, segment in zip(lines, segments, strict=True):
        if out and out[-1].label == line.group:
            out[-1] = Bracket(line.group, out[-1].start, segment.end - out[-1].start)
        else:
            out.append(Bracket(line.group, segment.start, segment.width))
    return tuple(out)


def _ticks(full: float) -> tuple[Tick, ...]:
    """Every five minutes from the start, those at ten with their number."""
    minutes = range(0, int(full // 60) + 1, TICK_MINUTES)
    return tuple(Tick(minute, _percent(minute * 60, full), minute % LABEL_MINUTES == 0) for minute in minutes)
