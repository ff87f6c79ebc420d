"""What the owner may choose at the points the rules leave open: a position where sources differ, or a stricter line.

No choice is ever looser than the line a table states, save the two whose second position the sources bear out: D01,
and the diastolic line of the regime us.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache

from clients.rules.reference import BpGate, ReviewInterval, Rulebook

REGIME, REGIMES, DEFAULT_REGIME = "regime", ("uk", "us"), "uk"
DIABETES_POINT = "D01"
OPEN_POSITIONS = frozenset({DIABETES_POINT})
# The lines of a gate, by the columns that hold the value and its comparison.
LINES = {"systolic": ("sbp", "sbp_op"), "diastolic": ("dbp", "dbp_op"), "pulse": ("hr", "hr_op")}
DAYS = "days"
STRICTER_ABOVE = "lt"


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


def adjusted(rulebook: Rulebook, choices: Choices) -> Rulebook:
    """The rule book with the owner's lines in place of its own, where they are stricter; never a looser one.

    A line for a gate or interval that this book does not hold moves nothing.
    """
    return _adjusted(rulebook, choices) if choices.lines else rulebook


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
    if chosen is None or row.days is None or chosen >= row.days:
        return row
    return replace(row, days=chosen)


def is_stricter(value: int, stated: int, *, op: str) -> bool:
    """Whether a line at `value` is met by more clients than one at `stated`."""
    return value > stated if op == STRICTER_ABOVE else value < stated
