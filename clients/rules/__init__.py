"""Who may practise what, decided without a database: screening, limits, the health form, sealing, names, reviews."""

from clients.rules.facts import ActiveCondition, Pregnancy, Pressure, Readings, Restriction, ScreeningFacts, Side
from clients.rules.limits import LimitFound, Proposal, levels_of, merged_limits
from clients.rules.outcomes import DeskWord, Level, Outcome, RowStatus, desk_word, row_status, strictest
from clients.rules.reasons import ReasonKind, ScreenReason
from clients.rules.reference import CLINICAL_TABLES, Fault, Rulebook, Strength, digest, faults
from clients.rules.reviews import DueReview, due
from clients.rules.screening import Screened, screen

__all__ = [
    "CLINICAL_TABLES",
    "ActiveCondition",
    "DeskWord",
    "DueReview",
    "Fault",
    "Level",
    "LimitFound",
    "Outcome",
    "Pregnancy",
    "Pressure",
    "Proposal",
    "Readings",
    "ReasonKind",
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
