"""Walking through the form: which screen comes next, what is still missing, and the answers read back."""

from datetime import date

from clients.rules.form import fields as f
from clients.rules.form.fields import Answers, Field, FieldKind, Screen
from clients.rules.form.reading import facts
from clients.rules.form.screens import due_screens
from clients.rules.outcomes import Outcome
from clients.rules.reference import Rulebook
from clients.rules.screening import screen as screened

EMERGENCY = Screen(
    id="emergency",
    title="Please stop here",
    question="Call your local emergency number now, or ask someone near you to call.",
    why="",
    fields=(),
    kind="emergency",
)


def screens(rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None) -> list[Screen]:
    """The screens of the form for these answers, in order.

    When an answer is an emergency the form stops: the screens answered so far, then the emergency screen, last.
    """
    due = due_screens(rulebook, answers, on=on, born_on=born_on)
    if not is_emergency(rulebook, answers, on=on, born_on=born_on):
        return due
    begun = [one for one in due if any(f.is_answered(field, answers) for field in one.fields)]
    return [*begun, EMERGENCY]


def is_emergency(rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None) -> bool:
    """Whether the answers so far already say that help comes first."""
    told = facts(rulebook, answers, on=on, born_on=born_on)
    return screened(told, rulebook, on=on).outcome is Outcome.EMERGENCY


def next_screen(
    rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None, after: str = ""
) -> Screen | None:
    """The screen to show: the one that follows `after`, or without it the first that lacks an answer.

    The emergency screen comes before all others. None when the form is through, or, with `after`, when it was last
    and nothing is missing.
    """
    due = screens(rulebook, answers, on=on, born_on=born_on)
    if due[-1].kind == "emergency":
        return due[-1]
    places = [place for place, one in enumerate(due) if one.id == after]
    if places and places[0] + 1 < len(due):
        return due[places[0] + 1]
    return next((one for one in due if _lacks(one, answers)), None)


def unanswered(rulebook: Rulebook, answers: Answers, on: date, *, born_on: date | None = None) -> list[tuple[str, str]]:
    """What still has to be answered: the screen to go to and the question's words."""
    told = facts(rulebook, answers, on=on, born_on=born_on)
    return [(one.screen_id, one.label) for one in told.unanswered]


def summary(
    rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None
) -> list[tuple[str, str, str]]:
    """The answers read back: question, answer in words, screen to change it on. A missing one is said to be missing."""
    due = due_screens(rulebook, answers, on=on, born_on=born_on)
    return [
        (field.label, in_words(field, answers), one.id)
        for one in due
        for field in one.fields
        if field.required or f.is_answered(field, answers)
    ]


def in_words(field: Field, answers: Answers) -> str:
    """One answer as a person would say it."""
    if not f.is_answered(field, answers):
        return "not answered"
    value = answers[field.id]
    labels = {choice.value: choice.label for choice in field.choices}
    if isinstance(value, list | tuple):
        return "; ".join(labels.get(str(one), str(one)) for one in value)
    if field.kind is FieldKind.PRESSURE and isinstance(value, dict):
        return f"{value.get('systolic')}/{value.get('diastolic')} mmHg"
    if field.kind is FieldKind.DATE and isinstance(value, str):
        day = date.fromisoformat(value)
        return f"{day.day} {day:%B} {day.year}"
    return labels.get(str(value), str(value))


def _lacks(one: Screen, answers: Answers) -> bool:
    return any(field.required and not f.is_answered(field, answers) for field in one.fields)
