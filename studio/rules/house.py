"""Decisions about the house: hours that do not overlap, a policy in range, and what the door says about today."""

from collections.abc import Mapping, Sequence
from datetime import time
from itertools import pairwise

from studio.rules.refusals import Reason

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
Stretch = tuple[time, time]
WeekHours = Mapping[int, Sequence[Stretch]]


def hours_reasons(hours: WeekHours) -> list[Reason]:
    """What is wrong with a week of opening hours; `field` names the weekday as `day_0` (Monday) to `day_6`."""
    return [reason for weekday in sorted(hours) for reason in _day_reasons(weekday, sorted(hours[weekday]))]


def _day_reasons(weekday: int, stretches: Sequence[Stretch]) -> list[Reason]:
    field, day = f"day_{weekday}", WEEKDAYS[weekday]
    reasons = [
        Reason("closes_before", f"{day}: it closes at {closes:%H:%M}, before it opens at {opens:%H:%M}.", field)
        for opens, closes in stretches
        if closes <= opens
    ]
    for early, late in pairwise(stretches):
        if late[0] < early[1]:
            says = f"{day}: open from {late[0]:%H:%M} overlaps the stretch until {early[1]:%H:%M}."
            reasons.append(Reason("hours_overlap", says, field, "stretches that do not overlap"))
    return reasons


def policy_reasons(
    *, lesson_minutes: int, turnaround_minutes: int, cancel_hours: int, reminder_hours: Sequence[int]
) -> list[Reason]:
    """What is wrong with a studio's policy; `field` names the input."""
    wanted = [
        ("lesson_minutes", lesson_minutes, 15, 240, "A lesson is between 15 and 240 minutes."),
        ("turnaround_minutes", turnaround_minutes, 0, 60, "Between two lessons there are 0 to 60 minutes."),
        ("cancel_hours", cancel_hours, 0, 168, "Cancelling is free until 0 to 168 hours before."),
        *(("reminder_hours", hours, 1, 336, "A reminder leaves 1 to 336 hours before.") for hours in reminder_hours),
    ]
    reasons = [
        Reason(f"{field}_range", says, field, f"{low} to {high}")
        for field, value, low, high, says in wanted
        if not low <= value <= high
    ]
    if len(reminder_hours) > 5:
        reasons.append(Reason("too_many_reminders", "Five reminders are plenty.", "reminder_hours", "at most 5"))
    return reasons


def door_words(name: str, stretches: Sequence[Stretch], wall: time, *, shut_today: bool) -> str:
    """Whether a studio is open at this wall time: "Weir Street is open until 20:00"."""
    if shut_today or not stretches:
        return f"{name} is closed today"
    for opens, closes in sorted(stretches):
        if wall < opens:
            return f"{name} opens at {opens:%H:%M}"
        if wall < closes:
            return f"{name} is open until {closes:%H:%M}"
    return f"{name} is closed for today"


def greeting(name: str, wall: time) -> str:
    """A greeting by the studio's clock and the first part of the name."""
    part = "morning" if wall < time(12) else "afternoon" if wall < time(18) else "evening"
    return f"Good {part}, {name.split()[0] if name.split() else name}."
