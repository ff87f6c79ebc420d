"""What the builder's page is made of: a template's blocks and lines, its rail, and what the rules say of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from programming import models
from programming.queries import drafts, machines
from programming.rules.building import DraftLine, Sums
from programming.rules.lines import Line
from programming.rules.rail import Rail
from programming.rules.repertoire import ExerciseRow
from programming.rules.timing import Pace, Times


@dataclass(frozen=True)
class Looking:
    """How somebody looks at a template: on which machine, at which pace, with which line and drawer open."""

    machine_id: int | None = None
    pace: Pace = Pace.WORKING
    open_key: int = 0


@dataclass(frozen=True)
class FindingView:
    """What a rule says of a line, or of the whole (key 0). `stands` is the reason it may stand with."""

    rule: str
    blocks: bool
    says: str
    key: int
    no: int
    name: str
    stands: str

    @property
    def is_open(self) -> bool:
        return self.blocks or not self.stands


@dataclass(frozen=True)
class LineEdit:
    """What an open line offers."""

    springs: int | None
    springs_low: int
    springs_high: int
    springs_usual: int | None
    fewer_springs: str
    has_sides: bool
    setup: tuple[tuple[str, str, str, tuple[tuple[str, str], ...]], ...]


@dataclass(frozen=True)
class LineView:
    """One line. `springs` is the reference count, `letters` what hangs on the chosen machine; times are clock words."""

    draft: DraftLine
    row: ExerciseRow
    no: int
    begins: str
    lasts: str
    springs: int | None
    letters: str
    reps: str
    change: tuple[str, ...]
    own: tuple[str, ...]
    findings: tuple[FindingView, ...]
    edit: LineEdit | None

    @property
    def key(self) -> int:
        return self.draft.key

    @property
    def is_open(self) -> bool:
        return self.edit is not None


@dataclass(frozen=True)
class BlockView:
    """Lines that stand together. A block of one has no heading of its own."""

    name: str
    lines: tuple[LineView, ...]
    lasts: str

    @property
    def key(self) -> int:
        return self.lines[0].key

    @property
    def is_single(self) -> bool:
        return len(self.lines) == 1


@dataclass(frozen=True)
class RailMark:
    """One stretch of the rail that can be touched; `state` is what the rules say of its line."""

    key: int
    says: str
    start: float
    width: float
    state: str
    is_open: bool
    adapted: bool


@dataclass(frozen=True)
class RailName:
    """A name over its stretch; `room` is what there is until the next name of its row, in percent as all places."""

    label: str
    start: float
    end: float
    room: float
    row: int


@dataclass(frozen=True)
class RailDrawing:
    rail: Rail
    marks: tuple[RailMark, ...]
    names: tuple[RailName, ...]
    slot_at: float
    told: str

    @property
    def filled(self) -> float:
        """The percentage of the rail that the lesson takes."""
        return 100 - self.rail.spare


@dataclass(frozen=True)
class Head:
    """The template itself."""

    id: UUID
    about: drafts.About
    version: int
    state: str
    revision: int
    made_by: str
    made_at: datetime
    answer: str
    decided_by: str
    copied_from: UUID | None

    @property
    def is_draft(self) -> bool:
        return self.state == models.Template.State.DRAFT


@dataclass(frozen=True)
class ExposureView:
    name: str
    seconds: str
    ceiling: str
    is_run: bool
    is_over: bool


@dataclass(frozen=True)
class BuilderView:
    head: Head
    blocks: tuple[BlockView, ...]
    drawing: RailDrawing
    sums: Sums
    findings: tuple[FindingView, ...]
    exposure: tuple[ExposureView, ...]
    machine: machines.Machine | None
    machines: tuple[tuple[int, str], ...]
    looking: Looking
    undo: drafts.Change | None = None
    redo: drafts.Change | None = None
    times: Mapping[str, str] = field(default_factory=dict)

    @property
    def lines(self) -> tuple[LineView, ...]:
        return tuple(line for block in self.blocks for line in block.lines)

    @property
    def blocking(self) -> int:
        return sum(one.blocks for one in self.findings)

    @property
    def warning(self) -> int:
        return sum(one.is_open and not one.blocks for one in self.findings)

    @property
    def standing(self) -> int:
        return sum(not one.is_open for one in self.findings)

    @property
    def whole_findings(self) -> tuple[FindingView, ...]:
        return tuple(one for one in self.findings if not one.key)

    @property
    def used(self) -> frozenset[str]:
        return frozenset(line.row.id for line in self.lines)


@dataclass(frozen=True)
class Read:
    """What the parts of the page are made from."""

    state: drafts.State
    lines: tuple[Line, ...]
    repertoire: Mapping[str, ExerciseRow]
    times: Times
    sums: Sums
    findings: tuple[FindingView, ...]
    letters: Mapping[str, str]
    looking: Looking
