"""What the owner may choose at the points the rules leave open: a position where sources differ, or a stricter line.

No choice is ever looser than the line a table states, save the two whose second position the sources bear out: D01,
and the diastolic line of the regime us.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import lru_cache

from clients.rules.reference import BpGate, Disagreement, ReviewInterval, Rulebook
from studio.rules import Reason

REGIME, REGIMES, DEFAULT_REGIME = "regime", ("uk", "us"), "uk"
DIABETES_POINT, REGIME_POINT = "D01", "D02"
OPEN_POSITIONS = frozenset({DIABETES_POINT})
# Only records the second position of a disagreement, and cannot be set.
CLOSED_GATES = frozenset({"G10"})
DAYS = "days"
# The lines of a gate: the columns that hold the value and its comparison, its name and its unit.
LINES = {
    "systolic": ("sbp", "sbp_op", "Upper pressure", "mmHg"),
    "diastolic": ("dbp", "dbp_op", "Lower pressure", "mmHg"),
    "pulse": ("hr", "hr_op", "Resting heart rate", "beats a minute"),
}
STRICTER_ABOVE = "lt"
# How far a line may be moved: beyond it nearly everybody would meet it (studio default).
FARTHEST = {
    ("systolic", "ge"): 110,
    ("systolic", "gt"): 110,
    ("systolic", "drop_ge"): 10,
    ("diastolic", "ge"): 70,
    ("diastolic", "gt"): 70,
    ("pulse", "gt"): 70,
    ("pulse", "lt"): 60,
}
# The intervals that may be shortened, and the fewest days (studio default).
INTERVALS = {
    "screening_form": ("The answers of a whole form hold", 28),
    "clearance_letter": ("A letter without an end of its own holds", 28),
    "vigorous_clearance": ("A letter that allows hard work holds for it", 28),
    "absence_middle": ("Away so long: the short re-check is asked", 7),
    "absence_long": ("Away so long: the whole form is asked", 7),
}
# The rows that each disagreement speaks about.
TOUCHES = {
    "D01": ("leaf 5",),
    "D02": ("G01", "G02"),
    "D03": ("G09", "G10"),
    "D04": ("P04", "P13"),
    "D05": ("P22", "P26"),
    "D06": ("C20", "C21"),
    "D07": ("C26", "C27"),
    "D08": ("C23", "C25"),
    "D09": ("C54",),
    "D10": ("C52",),
    "D11": ("C01", "C02"),
    "D12": ("C01", "C02", "C03", "C04"),
}
DISPUTED_LINES = {"G01.diastolic": "D02", "G02.diastolic": "D02", "G09.pulse": "D03"}


class PointKind(StrEnum):
    POSITION = "position"
    LINE = "line"


@dataclass(frozen=True)
class Choices:
    """The owner's choices in force; without any, the defaults of the rules.

    `regime` sets the pressure lines. `positions_b` names the disagreements where the second position was chosen; only
    D01 can be. `lines` are moved lines by point: "G01.systolic" in mmHg, "G09.pulse" in beats a minute,
    "screening_form.days" in days. Raises ValueError for a regime or position that cannot be chosen.
    """

    regime: str = DEFAULT_REGIME
    positions_b: frozenset[str] = frozenset()
    lines: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.regime not in REGIMES:
            raise ValueError(f"no such regime of pressure lines: {self.regime}")
        if closed := self.positions_b - OPEN_POSITIONS:
            raise ValueError(f"not open to choice: {', '.join(sorted(closed))}")

    def __hash__(self) -> int:
        return hash((self.regime, self.positions_b, frozenset(self.lines.items())))


AS_STATED = Choices()


@dataclass(frozen=True)
class Point:
    """A place in the rules where the owner may choose, or where sources differ and nothing can be chosen.

    A position has `options` (none: it is shown and cannot be set). A line has a `bound`, the value its table states,
    in `unit`; it may be moved from there only to the stricter side, as far as `farthest`. `op` says how a value meets
    the line: ge, gt, lt, drop_ge, or "days" for an interval. `touches` are the rows it bears on, `source_ids` what the
    default rests on; both positions with their sources stand where sources differ, else they are empty.
    """

    id: str
    label: str
    kind: PointKind
    default: str
    touches: tuple[str, ...]
    source_ids: tuple[str, ...]
    options: tuple[str, ...] = ()
    bound: int | None = None
    farthest: int | None = None
    op: str = ""
    unit: str = ""
    position_a: str = ""
    sources_a: tuple[str, ...] = ()
    position_b: str = ""
    sources_b: tuple[str, ...] = ()
    default_rule: str = ""

    @property
    def is_open(self) -> bool:
        """Whether anything can be chosen here."""
        return bool(self.options) or self.bound is not None

    @property
    def allowed(self) -> str:
        """What may be chosen, in words; empty when nothing can be."""
        if self.bound is None or self.farthest is None:
            return " or ".join(self.options)
        return f"{min(self.bound, self.farthest)} to {max(self.bound, self.farthest)} {self.unit}"


def points(rulebook: Rulebook) -> tuple[Point, ...]:
    """Every point of the book: the disagreements, the lines of the gates, and the intervals that may be shortened."""
    return (*_positions(rulebook), *_lines(rulebook), *_intervals(rulebook))


def refusal(point: Point, value: str | int) -> Reason | None:
    """Why this cannot be chosen there: `not_open`, `unknown_option`, `not_a_number`, `too_loose` or `too_far`."""
    if not point.is_open:
        return Reason("not_open", "This is shown so that both positions are known; it cannot be set.", field="value")
    if point.bound is None or point.farthest is None:
        if value in point.options:
            return None
        return Reason("unknown_option", "That is not one of the positions.", field="value", allowed=point.allowed)
    number = _whole(value)
    if number is None:
        return Reason("not_a_number", "Please write a whole number.", field="value", allowed=point.allowed)
    if number != point.bound and not is_stricter(number, point.bound, op=point.op):
        says = f"That is looser than the stated {point.bound} {point.unit}; it may only be made stricter."
        return Reason("too_loose", says, field="value", allowed=point.allowed)
    if number != point.farthest and is_stricter(number, point.farthest, op=point.op):
        says = "That far, nearly everybody would meet the line."
        return Reason("too_far", says, field="value", allowed=point.allowed)
    return None


def chosen_from(values: Mapping[str, str]) -> Choices:
    """The choices kept as words by point: {"regime": "us", "D01": "b", "G01.systolic": "170"}.

    Raises ValueError for words that no choice can have.
    """
    lines = {point: int(value) for point, value in values.items() if "." in point}
    positions = {point: value for point, value in values.items() if "." not in point and point != REGIME}
    if odd := {value for value in positions.values() if value not in ("a", "b")}:
        raise ValueError(f"no such position: {', '.join(sorted(odd))}")
    return Choices(
        regime=values.get(REGIME, DEFAULT_REGIME),
        positions_b=frozenset(point for point, value in positions.items() if value == "b"),
        lines=lines,
    )


def idle(rulebook: Rulebook, choices: Choices) -> tuple[str, ...]:
    """The points of moved lines that move nothing in this book: it lacks the row, or states a line as strict itself."""
    known = {point.id: point for point in points(rulebook)}
    held = {
        point_id
        for point_id, value in choices.lines.items()
        if (point := known.get(point_id)) and point.bound is not None and is_stricter(value, point.bound, op=point.op)
    }
    return tuple(sorted(set(choices.lines) - held))


def adjusted(rulebook: Rulebook, choices: Choices) -> Rulebook:
    """The rule book with the owner's lines in place of its own, where they are stricter; never a looser one.

    A line for a gate or interval that this book does not hold, or that cannot be set, moves nothing.
    """
    return _adjusted(rulebook, choices) if choices.lines else rulebook


def is_stricter(value: int, stated: int, *, op: str) -> bool:
    """Whether a line at `value` is met by more clients, or an interval over sooner, than at `stated`."""
    return value > stated if op == STRICTER_ABOVE else value < stated


# A pass over every client asks for the same book each time.
@lru_cache(maxsize=8)
def _adjusted(rulebook: Rulebook, choices: Choices) -> Rulebook:
    return replace(
        rulebook,
        bp_gates={gate_id: _moved_gate(gate, choices.lines) for gate_id, gate in rulebook.bp_gates.items()},
        intervals={item: _moved_interval(row, choices.lines) for item, row in rulebook.intervals.items()},
    )


def _moved_gate(gate: BpGate, lines: Mapping[str, int]) -> BpGate:
    def line(name: str, stated: int | None, op: str) -> int | None:
        chosen = lines.get(f"{gate.id}.{name}")
        if stated is None or chosen is None or not is_stricter(chosen, stated, op=op):
            return stated
        return chosen

    if gate.id in CLOSED_GATES:
        return gate
    moved = replace(
        gate,
        sbp=line("systolic", gate.sbp, gate.sbp_op),
        dbp=line("diastolic", gate.dbp, gate.dbp_op),
        hr=line("pulse", gate.hr, gate.hr_op),
    )
    # The very same row stays where nothing moved, so that the gates see at a glance that it is as stated.
    return gate if moved == gate else moved


def _moved_interval(row: ReviewInterval, lines: Mapping[str, int]) -> ReviewInterval:
    chosen = lines.get(f"{row.item}.{DAYS}")
    if row.item not in INTERVALS or chosen is None or row.days is None or not 0 < chosen < row.days:
        return row
    return replace(row, days=chosen)


def _positions(rulebook: Rulebook) -> Iterator[Point]:
    for row in rulebook.disagreements.values():
        is_regime = row.id == REGIME_POINT
        point = Point(
            id=REGIME if is_regime else row.id,
            label=row.point,
            kind=PointKind.POSITION,
            default=DEFAULT_REGIME if is_regime else ("a" if row.id in OPEN_POSITIONS else ""),
            touches=TOUCHES.get(row.id, ()),
            source_ids=tuple(dict.fromkeys((*row.sources_a, *row.sources_b))),
            options=REGIMES if is_regime else (("a", "b") if row.id in OPEN_POSITIONS else ()),
        )
        yield _disputed(point, row)


def _disputed(point: Point, row: Disagreement | None) -> Point:
    if row is None:
        return point
    return replace(
        point,
        position_a=row.position_a,
        sources_a=row.sources_a,
        position_b=row.position_b,
        sources_b=row.sources_b,
        default_rule=row.default_rule,
    )


def _lines(rulebook: Rulebook) -> Iterator[Point]:
    for gate in rulebook.bp_gates.values():
        for name, (column, op_column, _, unit) in LINES.items():
            stated, op = getattr(gate, column), getattr(gate, op_column)
            farthest = FARTHEST.get((name, op))
            if stated is None or farthest is None or gate.id in CLOSED_GATES:
                continue
            point = Point(
                id=f"{gate.id}.{name}",
                label=_label(gate, name, op),
                kind=PointKind.LINE,
                default=str(stated),
                touches=(gate.id,),
                source_ids=gate.source_ids,
                bound=stated,
                farthest=farthest if is_stricter(farthest, stated, op=op) else stated,
                op=op,
                unit=unit,
            )
            yield _disputed(point, rulebook.disagreements.get(DISPUTED_LINES.get(point.id, "")))


def _label(gate: BpGate, name: str, op: str) -> str:
    what = "Fall of the upper pressure on standing" if op == "drop_ge" else LINES[name][2]
    when = ["in pregnancy"] if gate.population == "pregnant" else []
    when += [f"lines {gate.regime}"] if gate.regime in REGIMES else []
    when += [gate.extra_condition] if gate.extra_condition and op != "drop_ge" else []
    return f"{what} ({', '.join(when)}): {gate.action}" if when else f"{what}: {gate.action}"


def _intervals(rulebook: Rulebook) -> Iterator[Point]:
    for item, (label, fewest) in INTERVALS.items():
        row = rulebook.intervals.get(item)
        if row is None or row.days is None:
            continue
        yield Point(
            id=f"{item}.{DAYS}",
            label=label,
            kind=PointKind.LINE,
            default=str(row.days),
            touches=(item,),
            source_ids=row.source_ids,
            bound=row.days,
            farthest=min(fewest, row.days),
            op=DAYS,
            unit="days",
        )


def _whole(value: str | int) -> int | None:
    if isinstance(value, int):
        return value
    words = value.strip()
    return int(words) if words.isascii() and words.isdecimal() and len(words) <= len("10000") else None
