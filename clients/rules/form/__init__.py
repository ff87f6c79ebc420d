"""The health form: its screens, what is posted, what is missing, the read-back, and the facts for screening."""

from clients.rules.form.cleaning import clean
from clients.rules.form.fields import Answers, Choice, Field, FieldKind, Screen
from clients.rules.form.reading import facts
from clients.rules.form.walking import is_emergency, next_screen, screens, summary, unanswered

__all__ = [
    "Answers",
    "Choice",
    "Field",
    "FieldKind",
    "Screen",
    "clean",
    "facts",
    "is_emergency",
    "next_screen",
    "screens",
    "summary",
    "unanswered",
]
