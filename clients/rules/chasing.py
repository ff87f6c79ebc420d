"""When a client who waits for a letter is written to, and when it is time to speak with her instead."""

from datetime import date, timedelta

# Studio default: two mails, a fortnight apart, then a person once a week.
REMIND_AFTER = (timedelta(days=7), timedelta(days=21))
QUIET = timedelta(days=3)
WEEK = timedelta(days=7)


def next_reminder(*, opened_on: date, reminders: int, reminded_on: date | None, on: date) -> date | None:
    """The day from `on` when the next mail goes by itself, none having gone in the days before; None after the last."""
    if reminders >= len(REMIND_AFTER):
        return None
    days = [opened_on + REMIND_AFTER[reminders], on]
    return max([*days, reminded_on + QUIET] if reminded_on else days)


def is_reminder_due(*, opened_on: date, reminders: int, reminded_on: date | None, on: date) -> bool:
    """Whether a mail goes today: its day has come, and none went by hand in the last days."""
    return next_reminder(opened_on=opened_on, reminders=reminders, reminded_on=reminded_on, on=on) == on


def speaks_on(*, opened_on: date, reminders: int, reminded_on: date | None) -> date | None:
    """The day from which somebody speaks with her, a week after the last mail; None while mails still go."""
    if reminders < len(REMIND_AFTER):
        return None
    return (reminded_on or opened_on) + WEEK
