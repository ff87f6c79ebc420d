"""What an opening is looked for with: the wish, the studio's people, machines and hours, and the opening itself."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from uuid import UUID
from zoneinfo import ZoneInfo

from scheduling.rules.places import LEAST_MINUTES, MOST_MINUTES, SEATS, LessonKind
from scheduling.rules.springs import SpringFact
from studio.rules import ApparatusKind, Span

Key = int | str | UUID
STEPS = (5, 15)


@dataclass(frozen=True)
class Wanted:
    """What is looked for. Empty ids mean any; `latest` None is the end of the day; wall times are the studio's.

    A lesson starts at `earliest` or later and ends by `latest`, on one of `days`. `seats` are the people who come
    together. A teacher must teach the apparatus up to `level`; a lesson to join must not be above it. `needs` are
    matched with what teachers are cleared for and never told. Raises ValueError when no lesson can be like that.
    """

    minutes: int
    kind: LessonKind
    days: tuple[date, ...]
    apparatus_kind: ApparatusKind | None = None
    apparatus_ids: tuple[Key, ...] = ()
    instructor_ids: tuple[Key, ...] = ()
    studio_ids: tuple[Key, ...] = ()
    earliest: time = time(0)
    latest: time | None = None
    step: int = 15
    seats: int = 1
    level: int = 1
    needs: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if not LEAST_MINUTES <= self.minutes <= MOST_MINUTES:
            raise ValueError("a lesson takes from 5 minutes to 4 hours")
        if self.step not in STEPS:
            raise ValueError("openings start every 5 or every 15 minutes")
        if not 1 <= self.seats <= SEATS[self.kind][1]:
            raise ValueError("that kind of lesson does not have so many seats")


@dataclass(frozen=True)
class Studio:
    """A location: opening spans with closures cut out, and the minutes kept free between two uses of a machine.

    A rest of a teacher's time shorter than `shortest_minutes` cannot be sold.
    """

    id: Key
    name: str
    zone: ZoneInfo
    opening: tuple[Span, ...]
    turnaround_minutes: int = 0
    shortest_minutes: int = 30


@dataclass(frozen=True)
class Instructor:
    """A teacher: working spans by studio with time off cut out, lessons taught, level she may teach by apparatus."""

    id: Key
    name: str
    work: Mapping[Key, tuple[Span, ...]]
    teaches: Mapping[ApparatusKind, int]
    busy: tuple[Span, ...] = ()
    cleared_for: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Machine:
    """An apparatus: its bookings, and when it is in service (None: always)."""

    id: Key
    label: str
    kind: ApparatusKind
    studio_id: Key
    room: str = ""
    busy: tuple[Span, ...] = ()
    in_service: tuple[Span, ...] | None = None
    springs: tuple[SpringFact, ...] = ()


@dataclass(frozen=True)
class JoinableLesson:
    """A lesson with seats left. `level` None when it has none."""

    id: Key
    kind: LessonKind
    span: Span
    instructor_id: Key
    studio_id: Key
    room: str
    seats_total: int
    seats_taken: int
    level: int | None = None


@dataclass(frozen=True)
class Resources:
    """What there is over the days looked at, and what is known of the client: her bookings, teacher and last machine.

    The order of `instructors` and `machines` decides between equals.
    """

    studios: tuple[Studio, ...]
    instructors: tuple[Instructor, ...]
    machines: tuple[Machine, ...]
    lessons: tuple[JoinableLesson, ...] = ()
    client_busy: tuple[Span, ...] = ()
    usual_instructor_id: Key | None = None
    last_machine_id: Key | None = None

    def machine(self, key: Key | None) -> Machine | None:
        return next((machine for machine in self.machines if machine.id == key), None)


@dataclass(frozen=True)
class Opening:
    """A time that is really free; `lesson_id` when a lesson is joined. `reasons` say in words why it stands there."""

    span: Span
    studio_id: Key
    instructor_id: Key
    apparatus_ids: tuple[Key, ...]
    score: int
    reasons: tuple[str, ...] = ()
    lesson_id: Key | None = None
