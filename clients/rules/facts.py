"""What screening knows of a client: told answers and readings taken, as frozen facts. None means not known."""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from clients.rules.reference import Intensity, Level

DAYS_OF_GESTATION = 280


class Side(StrEnum):
    """The side of the body a sided finding is on; both also when it is not known which."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"


class Disease(StrEnum):
    """The kinds of known disease that the clearance table asks about."""

    HEART_OR_VESSELS = "heart_or_vessels"
    DIABETES = "diabetes"
    KIDNEY = "kidney"


class Today(StrEnum):
    """What a client tells of today's state and a gate answers to."""

    FEVER = "fever"
    ILL = "ill"
    IRREGULAR_PULSE = "irregular_pulse"
    WHEEZING = "wheezing"


@dataclass(frozen=True)
class ActiveCondition:
    """A condition in force. `since` is the day its window counts from.

    `needs_clearance` answers the condition's own "clearance when": None means not asked. `is_held` says that something
    other than the date keeps it in force, such as pain. An active condition stays in force after its window until a
    named person confirms the end.
    """

    condition_id: str
    side: Side | None = None
    since: date | None = None
    needs_clearance: bool | None = None
    is_held: bool = False


@dataclass(frozen=True)
class ToldFlag:
    """A red flag answered with yes, and whether what it needs besides is there too; None means not known."""

    flag_id: str
    needs_met: bool | None = True


@dataclass(frozen=True)
class Restriction:
    """Demands that someone who treats the client, or her teacher, asked to leave out or to change.

    `told_at` says where it was told: the id of a question, or "letter:" or "teacher:" with the id of what is kept.
    It holds until a named person ends it, whatever its date. `side` None counts for both sides.
    """

    demands: frozenset[str]
    told_at: str = "H16"
    level: Level = Level.AVOID
    side: Side | None = None


@dataclass(frozen=True)
class LetterTerms:
    """What a clinician's letter says, as a named person put it into terms and confirmed it.

    `answers` are the ids of the rules whose asking for clearance it answers, `effort` the hardest effort it allows
    (None: it says nothing of it). `allows` and `forbids` are demands. `dated` None means that it bears no date.
    `told` holds what the answered reasons were about (`ScreenReason.about`) when it was confirmed: a sign or an
    operation told since then it does not answer. None when that was not noted. What it forbids never runs out by
    itself.
    """

    letter_id: str
    dated: date | None
    holds_until: date
    answers: frozenset[str]
    effort: Intensity | None
    allows: frozenset[str]
    forbids: frozenset[str]
    is_named: bool = True
    told: frozenset[str] | None = None

    def holds(self, on: date) -> bool:
        """Whether it may answer or relax anything on the day: written by somebody named, dated, and in its time."""
        return self.is_named and self.dated is not None and self.dated <= on <= self.holds_until


@dataclass(frozen=True)
class Pressure:
    """A blood pressure in mmHg."""

    systolic: int
    diastolic: int


@dataclass(frozen=True)
class Readings:
    """Measured at rest, seated, in the order taken; the pulse after 5 minutes, in beats a minute.

    `told` is a pressure the client only reported. `is_treated` and `has_signs` (confusion, chest pain, breathlessness
    or change of sight with the pressure) are None when not known. `standing_drop` is the systolic fall in mmHg.
    """

    pressures: tuple[Pressure, ...] = ()
    told: Pressure | None = None
    heart_rate: int | None = None
    is_treated: bool | None = None
    has_signs: bool | None = None
    standing_drop: int | None = None
    faint_with_low_pressure: bool = False


@dataclass(frozen=True)
class Pregnancy:
    """A pregnancy, and the gates (ids of the pregnancy table) that the client says are hers."""

    due_on: date | None
    gate_ids: frozenset[str] = frozenset()

    def gestation(self, on: date) -> int | None:
        """Days of gestation on the day, 280 on the due date; None when no due date is known."""
        return None if self.due_on is None else DAYS_OF_GESTATION - (self.due_on - on).days

    def day_of(self, gestation: int) -> date | None:
        """The day on which this gestation in days is reached."""
        return None if self.due_on is None else self.due_on - timedelta(days=DAYS_OF_GESTATION - gestation)


@dataclass(frozen=True)
class Unanswered:
    """A question without its answer: the field's id, the screen to return to, and the words on it."""

    field_id: str
    screen_id: str
    label: str


@dataclass(frozen=True)
class ScreeningFacts:
    """All that a screening decides on. `written_on` is the day the answers were given.

    The answers age from `whole_on`, the day on which the whole form was last filled in; from `written_on` while that
    is None.

    `symptoms` holds the signs that are there; None when none is and not all nine are answered. `diseases` is None when
    the questions about them are unanswered. `has_unread_words` says that something to leave out was told in words
    which no person has put into movement terms yet.
    """

    written_on: date
    regularly_active: bool | None = None
    diseases: frozenset[Disease] | None = None
    symptoms: frozenset[str] | None = None
    chest_pain_is_new: bool = False
    intensity: Intensity | None = None
    conditions: tuple[ActiveCondition, ...] = ()
    flags: tuple[ToldFlag, ...] = ()
    readings: Readings = Readings()
    pregnancy: Pregnancy | None = None
    today: frozenset[Today] = frozenset()
    restrictions: tuple[Restriction, ...] = ()
    letters: tuple[LetterTerms, ...] = ()
    has_unread_words: bool = False
    supervised_only: bool = False
    unanswered: tuple[Unanswered, ...] = ()
    whole_on: date | None = None
