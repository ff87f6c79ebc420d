"""The clinical tables as values: one frozen class a table, built from a row of strings."""

from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """How a condition treats a demand; the strictest is named first."""

    AVOID = "avoid"
    ADAPT = "adapt"
    WATCH = "watch"


class Strength(StrEnum):
    """What stands behind a rule, best supported first."""

    GUIDELINE = "guideline"
    CONSENSUS = "consensus"
    STUDY = "study"
    COMMON_PRACTICE = "common_practice"


class Clearance(StrEnum):
    """When a condition asks for a professional's written word."""

    NONE = "none"
    ONCE = "once"
    BEFORE_ANY = "before_any"
    CONDITIONAL = "conditional"


class Basis(StrEnum):
    """What the days of a window are counted from."""

    NONE = "none"
    EVENT = "event"
    ONSET = "onset"
    GESTATION = "gestation"


class Intensity(StrEnum):
    """The effort a client wants, or may be offered."""

    LIGHT_MODERATE = "light_moderate"
    VIGOROUS = "vigorous"


class FlagRoute(StrEnum):
    """Where a red flag sends the client."""

    EMERGENCY = "emergency"
    EYE_EMERGENCY = "eye_emergency"
    SAME_DAY = "same_day"
    DOCTOR_BEFORE_RETURN = "doctor_before_return"


def items(cell: str) -> tuple[str, ...]:
    """The parts of a cell that holds a list, split at semicolons."""
    return tuple(part for part in cell.split(";") if part)


def whole(cell: str) -> int | None:
    """The whole number in a cell, or None when the cell is empty."""
    return int(cell) if cell else None


def decimal(cell: str) -> float | None:
    """The number in a cell, or None when the cell is empty."""
    return float(cell) if cell else None


@dataclass(frozen=True)
class Source:
    """A published source, or a stated practice; `how_checked` is read, secondary or memory."""

    id: str
    citation: str
    year: str
    kind: str
    how_checked: str
    url_or_doi: str


@dataclass(frozen=True)
class Demand:
    """What a movement asks of a body."""

    code: str
    name: str
    definition: str
    tag_if: str
    not_if: str
    default_adapt: str


@dataclass(frozen=True)
class Condition:
    """A condition; the window is in days, both ends inside, counted from `window_basis`."""

    id: str
    name: str
    phase_or_window: str
    window_days_from: int | None
    window_days_to: int | None
    window_basis: Basis
    next_condition_id: str
    is_sided: bool
    clearance: Clearance
    clearance_when: str
    source_ids: tuple[str, ...]
    strength: Strength
    note: str

    @property
    def has_last_day(self) -> bool:
        """Whether its window closes on a counted day after an event or an onset."""
        return self.window_days_to is not None and self.window_basis in (Basis.EVENT, Basis.ONSET)


@dataclass(frozen=True)
class LimitRule:
    """One condition's level for one demand; `strength` is that of this very step."""

    condition_id: str
    demand: str
    level: Level
    how: str
    source_ids: tuple[str, ...]
    strength: Strength


@dataclass(frozen=True)
class Leaf:
    """One of the sixteen ends of the clearance table."""

    leaf: int
    regularly_active: bool
    known_disease: bool
    symptoms: bool
    intensity: Intensity
    clearance_needed: str
    clearance_max_age_months: int | None
    outcome: str
    bookable: str
    box: str
    source_ids: tuple[str, ...]


@dataclass(frozen=True)
class BpGate:
    """A line for pressure (mmHg) or resting heart rate (beats a minute), with its comparison operators."""

    id: str
    population: str
    sbp_op: str
    sbp: int | None
    dbp_op: str
    dbp: int | None
    hr_op: str
    hr: int | None
    extra_condition: str
    action: str
    outcome: str
    regime: str
    source_ids: tuple[str, ...]


@dataclass(frozen=True)
class PregnancyGate:
    """A statement about a pregnancy that sends the client to her provider; `from_gestation_day` None means always."""

    id: str
    level: str
    list_origin: str
    statement: str
    from_gestation_day: int | None
    action: str
    outcome: str
    is_on: bool
    source_ids: tuple[str, ...]


@dataclass(frozen=True)
class RedFlag:
    """A question whose yes sends the client to be seen; never a diagnosis."""

    id: str
    flag_group: str
    question: str
    needs_also: str
    route: FlagRoute
    action: str
    source_ids: tuple[str, ...]


@dataclass(frozen=True)
class Symptom:
    """One of the nine signs, in the order in which they are asked."""

    id: str
    short_name: str
    question: str
    action: str
    source_ids: tuple[str, ...]


@dataclass(frozen=True)
class HealthQuestion:
    """One of the eighteen questions of the health form, with why it is asked."""

    id: str
    topic: str
    question: str
    why_we_ask: str
    answer_kind: str
    feeds: tuple[str, ...]
    source_ids: tuple[str, ...]


@dataclass(frozen=True)
class StopSign:
    """A sign that ends or changes the lesson."""

    id: str
    statement: str
    action: str
    source_ids: tuple[str, ...]


@dataclass(frozen=True)
class Disagreement:
    """A point where sources differ: both positions and the default in force."""

    id: str
    point: str
    position_a: str
    sources_a: tuple[str, ...]
    position_b: str
    sources_b: tuple[str, ...]
    default_rule: str


@dataclass(frozen=True)
class ReviewInterval:
    """When something is due again: after `visits` lessons, after `days` days, or whichever comes first."""

    item: str
    trigger: str
    visits: int | None
    days: int | None
    whichever_first: bool
    effect: str
    source_ids: tuple[str, ...]


@dataclass(frozen=True)
class Measure:
    """Something measured again and again; `mdc` is the smallest change that is more than noise, in `unit`."""

    measure: str
    unit: str
    higher_is_better: bool | None
    min: float | None
    max: float | None
    decimals: int
    mdc: float | None
    mdc_note: str
    important_change: str
    protocol: str
    source_ids: tuple[str, ...]


@dataclass(frozen=True)
class Norm:
    """A published figure for a measure, by sex and age in years (both ends inside)."""

    measure: str
    sex: str
    age_from: int | None
    age_to: int | None
    statistic: str
    value: str
    source_ids: tuple[str, ...]
    how_checked: str
