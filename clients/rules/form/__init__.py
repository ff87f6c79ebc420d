"""The health form: its screens, what is posted, what is missing, the read-back, and the facts for screening."""

from clients.rules.form.cleaning import clean
from clients.rules.form.differences import Difference, differences
from clients.rules.form.doubts import Doubt, doubts, on_screen
from clients.rules.form.expecting import Expecting, expecting
from clients.rules.form.fields import Answers, Choice, Field, FieldKind, Screen
from clients.rules.form.reading import facts
from clients.rules.form.recheck import (
    ANEW_IN_FULL,
    ANEW_IN_QUICK,
    CHANGED,
    OF_THE_DAY,
    Recheckable,
    has_changed,
    whole_from_recheck,
    why_whole,
    without,
)
from clients.rules.form.walking import (
    Told,
    Walk,
    in_words,
    is_emergency,
    next_screen,
    read_back,
    read_recheck,
    screens,
    summary,
    unanswered,
)
from clients.rules.form.whole import every_screen, follows

__all__ = [
    "ANEW_IN_FULL",
    "ANEW_IN_QUICK",
    "CHANGED",
    "OF_THE_DAY",
    "Answers",
    "Choice",
    "Difference",
    "Doubt",
    "Expecting",
    "Field",
    "FieldKind",
    "Recheckable",
    "Screen",
    "Told",
    "Walk",
    "clean",
    "differences",
    "doubts",
    "every_screen",
    "expecting",
    "facts",
    "follows",
    "has_changed",
    "in_words",
    "is_emergency",
    "next_screen",
    "on_screen",
    "read_back",
    "read_recheck",
    "screens",
    "summary",
    "unanswered",
    "whole_from_recheck",
    "why_whole",
    "without",
]
