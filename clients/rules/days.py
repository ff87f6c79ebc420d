"""Days as they are written in a sentence."""

from datetime import date


def day_in_words(day: date) -> str:
    """The day with its month in English words: 3 March 2026."""
    return f"{day.day} {day:%B} {day.year}"
