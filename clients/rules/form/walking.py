"""Walking through the form: which screen comes next, what is still missing, and the answers read back."""

from dataclasses import dataclass
from datetime import date

from clients.rules.days import day_in_words
from clients.rules.form import fields as f
from clients.rules.form.doubts import Doubt, doubts
from clients.rules.form.fields import Answers, Field, FieldKind, Screen
from clients.rules.form.reading import facts
from clients.rules.form.recheck import CHANGED, WHAT_CHANGED, recheck_screens
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


@dataclass(frozen=True)
class Told:
    """One answer read back in words: the part of the form it belongs to, the question, and the screen it is on."""

    field_id: str
    title: str
    question: str
    words: str
    screen_id: str


@dataclass(frozen=True)
class Walk:
    """A way through the form on a day: the whole form, or, with the day `told_on` of the last one, the re-check."""

    rulebook: Rulebook
    on: date
    born_on: date | None = None
    told_on: date | None = None
    asked: frozenset[str] = frozenset()

    def screens(self, answers: Answers) -> list[Screen]:
        """The screens in order. When an answer is an emergency: those answered so far, then the emergency, last."""
        due = self._due(answers)
        if not is_emergency(self.rulebook, answers, on=self.on, born_on=self.born_on):
            return due
        begun = [one for one in due if any(f.is_answered(field, answers) for field in one.fields)]
        return [*begun, EMERGENCY]

    def next(self, answers: Answers, *, after: str = "") -> Screen | None:
        """As `next_screen`."""
        due = self.screens(answers)
        if due[-1].kind == "emergency":
            return due[-1]
        places = [place for place, one in enumerate(due) if one.id == after]
        if places and places[0] + 1 < len(due):
            return due[places[0] + 1]
        return next((one for one in due if _lacks(one, answers)), None)

    def unanswered(self, answers: Answers) -> list[tuple[str, str]]:
        """What still has to be answered: the screen to go to and the question's words."""
        due = self._due(answers)
        lacking = [(one, field) for one in due for field in one.fields if field.required]
        return [(one.id, field.label) for one, field in lacking if not f.is_answered(field, answers)]

    def doubts(self, answers: Answers) -> list[Doubt]:
        """Answers that cannot be, or cannot both be."""
        return doubts(self.rulebook, answers, on=self.on, born_on=self.born_on)

    def _due(self, answers: Answers) -> list[Screen]:
        if self.told_on is None:
            return due_screens(self.rulebook, answers, on=self.on, born_on=self.born_on)
        return recheck_screens(
            self.rulebook, answers, on=self.on, told_on=self.told_on, born_on=self.born_on, asked=self.asked
        )


def screens(rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None) -> list[Screen]:
    """The screens of the form for these answers, in order.

    When an answer is an emergency the form stops: the screens answered so far, then the emergency screen, last.
    """
    return Walk(rulebook, on, born_on).screens(answers)


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
    return Walk(rulebook, on, born_on).next(answers, after=after)


def unanswered(rulebook: Rulebook, answers: Answers, on: date, *, born_on: date | None = None) -> list[tuple[str, str]]:
    """What still has to be answered: the screen to go to and the question's words."""
    told = facts(rulebook, answers, on=on, born_on=born_on)
    return [(one.screen_id, one.label) for one in told.unanswered]


def summary(
    rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None
) -> list[tuple[str, str, str]]:
    """The answers read back: question, answer in words, screen to change it on. A missing one is said to be missing."""
    told = read_back(rulebook, answers, on=on, born_on=born_on)
    return [(one.question, one.words, one.screen_id) for one in told]


def read_back(rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None) -> list[Told]:
    """The answers of the whole form in words, in its order; those that may stay empty only when they are not."""
    return [
        Told(field.id, _part(one, rulebook), field.label, in_words(field, answers), one.id)
        for one in due_screens(rulebook, answers, on=on, born_on=born_on)
        for field in one.fields
        if field.required or f.is_answered(field, answers)
    ]


def _part(one: Screen, rulebook: Rulebook) -> str:
    """The part of the form that a screen belongs to; details stand under the name of what they are about."""
    return one.question if one.id in rulebook.conditions else one.title


def read_recheck(answers: Answers) -> list[Told]:
    """What a re-check told of a change since the form before; nothing for a form that was never one."""
    if CHANGED not in answers:
        return []
    field = f.many(CHANGED, "Has anything changed since the form before?", WHAT_CHANGED)
    return [Told(CHANGED, "Since then", field.label, in_words(field, answers), "recheck")]


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
        return day_in_words(date.fromisoformat(value))
    return labels.get(str(value), str(value))


def _lacks(one: Screen, answers: Answers) -> bool:
    return any(field.required and not f.is_answered(field, answers) for field in one.fields)
