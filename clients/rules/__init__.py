"""Who may practise what, decided without a database: screening, limits, the health form, sealing, names, reviews."""

from clients.rules.adjusting import AS_STATED, Choices
from clients.rules.facts import (
    ActiveCondition,
    LetterTerms,
    Pregnancy,
    Pressure,
    Readings,
    Restriction,
    ScreeningFacts,
    Side,
)
from clients.rules.limits import LimitFound, Proposal, Relaxed, levels_of, merged_limits
from clients.rules.outcomes import DeskWord, Level, Outcome, RowStatus, desk_word, row_status, strictest
from clients.rules.reasons import ReasonKind, ScreenReason
from clients.rules.reference import CLINICAL_TABLES, Fault, Rulebook, Strength, digest, faults
from clients.rules.reviews import DueReview, due
from clients.rules.screening import Screened, screen

__all__ = [
    "AS_STATED",
    "CLINICAL_TABLES",
    "ActiveCondition",
    "Choices",
    "DeskWord",
    "DueReview",
    "Fault",
    "LetterTerms",
    "Level",
    "LimitFound",
    "Outcome",
    "Pregnancy",
    "Pressure",
    "Proposal",
    "Readings",
    "ReasonKind",
    "Relaxed",
    "Restriction",
    "RowStatus",
    "Rulebook",
    "ScreenReason",
    "Screened",
    "ScreeningFacts",
    "Side",
    "Strength",
    "desk_word",
    "digest",
    "due",
    "faults",
    "levels_of",
    "merged_limits",
    "row_status",
    "screen",
    "strictest",
]
