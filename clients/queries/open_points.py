"""What the owner chose at the points the rules leave open: as the rules read it, and in words with its history."""

from dataclasses import dataclass
from datetime import datetime

from clients import models
from clients.queries import whys
from clients.queries.reference import rules_in_force
from clients.queries.whys import SourceLine
from clients.rules import adjusting
from clients.rules.adjusting import Point, PointKind
from clients.rules.reference import Rulebook

POSITIONS = {"a": "Position a", "b": "Position b", "uk": "Lines uk", "us": "Lines us"}


@dataclass(frozen=True)
class ChosenLine:
    """A choice that was made; `ended_at` None while it holds."""

    value: str
    why: str
    by: str
    at: datetime
    ended_at: datetime | None


@dataclass(frozen=True)
class PointLine:
    """A point in words. `value` is what holds, `chosen` who chose it and why; None while it is the default.

    `is_idle` says that the choice moves nothing, for the rules in force are as strict themselves.
    """

    id: str
    label: str
    is_position: bool
    is_open: bool
    is_idle: bool
    default: str
    value: str
    unit: str
    allowed: str
    options: tuple[tuple[str, str], ...]
    touches: tuple[str, ...]
    sources: tuple[SourceLine, ...]
    position_a: str
    sources_a: tuple[SourceLine, ...]
    position_b: str
    sources_b: tuple[SourceLine, ...]
    default_rule: str
    chosen: ChosenLine | None

    @property
    def is_default(self) -> bool:
        return self.value == self.default

    @property
    def shown_value(self) -> str:
        """What holds, in words."""
        if self.is_position:
            return POSITIONS.get(self.value, self.default_rule)
        return f"{self.value} {self.unit}"


def choices() -> adjusting.Choices:
    """The owner's choices in force; the defaults where none was made. One query."""
    open_now = models.RuleChoice.objects.filter(ended_at=None).values_list("point", "value")
    return adjusting.chosen_from(dict(open_now))


def points() -> tuple[PointLine, ...]:
    """Every point of the rules in force, with what holds there. Raises Refused `no_rules`."""
    book = rules_in_force().rulebook
    rows = models.RuleChoice.objects.filter(ended_at=None).select_related("chosen_by")
    chosen = {row.point: _chosen(row) for row in rows}
    idle = set(adjusting.idle(book, choices()))
    return tuple(_point(one, book, chosen.get(one.id), one.id in idle) for one in adjusting.points(book))


def point(point_id: str) -> PointLine | None:
    """One point; None when the rules in force have none of that id."""
    return next((one for one in points() if one.id == point_id), None)


def history(point_id: str) -> tuple[ChosenLine, ...]:
    """Every choice at a point, the newest first."""
    rows = models.RuleChoice.objects.filter(point=point_id).select_related("chosen_by")
    return tuple(_chosen(row) for row in rows.order_by("-chosen_at", "-pk"))


def _chosen(row: models.RuleChoice) -> ChosenLine:
    return ChosenLine(row.value, row.why, row.chosen_by.name, row.chosen_at, row.ended_at)


def _point(one: Point, book: Rulebook, chosen: ChosenLine | None, is_idle: bool) -> PointLine:
    value = chosen.value if chosen else one.default
    return PointLine(
        id=one.id,
        label=one.label,
        is_position=one.kind is PointKind.POSITION,
        is_open=one.is_open,
        is_idle=is_idle and value != one.default,
        default=one.default,
        value=value,
        unit=one.unit,
        allowed=one.allowed,
        options=tuple((option, POSITIONS[option]) for option in one.options),
        touches=one.touches,
        sources=whys.source_lines(one.source_ids, book),
        position_a=one.position_a,
        sources_a=whys.source_lines(one.sources_a, book),
        position_b=one.position_b,
        sources_b=whys.source_lines(one.sources_b, book),
        default_rule=one.default_rule,
        chosen=chosen,
    )
