"""The whole form at once, as paper needs it: every screen that any answer can lead to."""

from datetime import date

from clients.rules.form.fields import YES, Field, FieldKind, Screen
from clients.rules.form.screens import due_screens
from clients.rules.reference import Rulebook

# The answers that open what no yes and no tick opens.
OPENING: dict[str, object] = {"H05": "high_and_low", "H05.value": {"systolic": 300, "diastolic": 200}}
# A form that unfolds further than this has lost its end.
DEEPEST = 12


def every_screen(rulebook: Rulebook, *, on: date) -> list[Screen]:
    """All screens in order, follow-ups behind what they follow from. Raises ValueError when they never end."""
    answers: dict[str, object] = {}
    for _ in range(DEEPEST):
        due = due_screens(rulebook, answers, on=on)
        opened = {field.id: _opening(field, on) for screen in due for field in screen.fields}
        if opened == answers:
            return due
        answers = opened
    raise ValueError("the form does not end")


def follows(screen: Screen, rulebook: Rulebook) -> bool:
    """Whether a screen is only asked after an earlier answer."""
    return screen.id not in rulebook.questions and screen.id not in ("safety", "H12.signs")


def _opening(field: Field, on: date) -> object:
    if field.id in OPENING:
        return OPENING[field.id]
    if field.kind in (FieldKind.YES_NO, FieldKind.YES_NO_UNSURE):
        return YES
    if field.kind is FieldKind.MANY:
        return [choice.value for choice in field.choices if not choice.is_alone]
    if field.kind is FieldKind.CHOICE:
        return field.choices[0].value
    return on.isoformat() if field.kind is FieldKind.DATE else None
