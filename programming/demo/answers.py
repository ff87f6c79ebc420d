"""A persona's answers to the health form, screen by screen, as a browser would post them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from clients.rules import form
from clients.rules.form import Answers, Field, FieldKind, Screen
from clients.rules.reference import Rulebook

Posted = dict[str, list[str]]
# What most people say where neither yes nor no is asked.
USUAL: dict[str, list[str]] = {
    "H01.days": ["2"],
    "H01.minutes": ["40"],
    "H01.effort": ["moderate"],
    "H01.months": ["12"],
    "H05": ["usual"],
    "H18.intensity": ["light_moderate"],
}
FALLBACK = {FieldKind.YES_NO: ["no"], FieldKind.YES_NO_UNSURE: ["no"], FieldKind.MANY: ["none"]}


@dataclass(frozen=True)
class Telling:
    """What somebody tells, by field: words of the form, dates as days from the day of writing ("-400")."""

    tells: Mapping[str, str | list[str]]
    on: date
    born_on: date | None

    def screens(self, rulebook: Rulebook) -> Iterator[tuple[Screen, Posted]]:
        """Each screen the form asks, in order, with what is posted on it; a screen that stops the form is left out."""
        answers: dict[str, object] = {}
        while screen := self._next(rulebook, answers):
            posted = self.posted(screen)
            values, errors = form.clean(screen, posted, on=self.on)
            if errors:
                raise ValueError(f"the scenario cannot answer {screen.id}: {errors}")
            answers |= values
            yield screen, posted

    def answers(self, rulebook: Rulebook) -> dict[str, object]:
        """The whole form, as it is kept."""
        kept: dict[str, object] = {}
        for screen, posted in self.screens(rulebook):
            kept |= form.clean(screen, posted, on=self.on)[0]
        return kept

    def posted(self, screen: Screen) -> Posted:
        return {field.id: self._told(field) for field in screen.fields}

    def _next(self, rulebook: Rulebook, answers: Answers) -> Screen | None:
        screen = form.next_screen(rulebook, answers, on=self.on, born_on=self.born_on)
        return None if screen is None or screen.kind == "emergency" else screen

    def _told(self, field: Field) -> list[str]:
        told = self.tells.get(field.id)
        if told is None:
            return USUAL.get(field.id) or FALLBACK.get(field.kind) or self._plain(field)
        words = [told] if isinstance(told, str) else list(told)
        if field.kind is FieldKind.DATE:
            return [(self.on + timedelta(days=int(words[0]))).isoformat()]
        return words

    def _plain(self, field: Field) -> list[str]:
        if field.kind is FieldKind.CHOICE:
            values = [choice.value for choice in field.choices]
            return ["no"] if "no" in values else values[:1]
        return []
