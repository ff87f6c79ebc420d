"""When a client who waits for a letter is written to, and when it is time to speak with her instead."""

from datetime import date, timedelta

# Studio default: two mails, a fortnight apart, then a person once a week.
REMIND_AFTER = (timedelta(days=7), timedelta(days=21))
QUIET = timedelta(days=3)
WEEK = timedelta(days=7)


def next_reminder(*, opened_on: date, reminders: int) -> date | None:
    """The day the next mail goes by itself; None when all have gone."""
    return opened_on + REMIND_AFTER[reminders] if reminders < len(REMIND_AFTER) else None


def is_reminder_due(*, opened_on: date, reminders: int, reminded_on: date | None, on: date) -> bool:
    """Whether a mail goes today: its day has come, and none went by hand in the last days."""
    day = next_reminder(opened_on=opened_on, reminders=reminders)
    is_quiet = reminded_on is None or on - reminded_on >= QUIET
    return day is not None and day <= on and is_quiet


def speaks_on(*, opened_on: date, reminders: int, reminded_on: date | None) -> date | None:
    """The day from which somebody speaks with her, a week after the last mail; None while mails still go."""
    if reminders < len(REMIND_AFTER):
        return None
    return (reminded_on or opened_on) + WEEK
