"""The re-check for somebody who comes back: what has changed since the last form, how it is today, about a minute.

It confirms the answers of a whole form; what it cannot confirm, it asks.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from clients.rules.days import day_in_words
from clients.rules.form import fields as f
from clients.rules.form import follow_ups
from clients.rules.form import questions as q
from clients.rules.form.doubts import doubts
from clients.rules.form.fields import Answers, Choice, Screen
from clients.rules.form.follow_ups import chosen
from clients.rules.form.screens import WHY_FIRST, due_screens
from clients.rules.reference import Rulebook

CHANGED = "Q.changed"
# Asked anew each time a whole form is filled in again: how it is now, never how it was.
ANEW_IN_FULL = ("H17", "F", "S", "H13.now", "Q.")
# Asked anew when a whole form is gone on with on another day: they are about today.
OF_THE_DAY = ("H17", "F", "H13.now")
# Asked anew in a re-check; all else is confirmed by saying that nothing has changed.
ANEW_IN_QUICK = ("H17", "H13.now", "Q.", *q.EMERGENCY_FLAGS)
WHAT_CHANGED = (
    Choice(f.NONE, "Nothing of this", is_alone=True),
    Choice("diagnosis", "A new diagnosis"),
    Choice("operation", "An operation"),
    Choice("fall", "A fall"),
    Choice("faint", "A faint"),
    Choice("pregnancy_or_birth", "A pregnancy or a birth"),
    Choice("symptom", "A new sign or complaint"),
    Choice("medicine", "A new or changed medicine"),
)


def without(answers: Answers, starts: tuple[str, ...]) -> dict[str, object]:
    """The answers but those whose field begins with one of `starts`."""
    return {key: value for key, value in answers.items() if not key.startswith(starts)}


def has_changed(answers: Answers) -> bool:
    """Whether the re-check told of a change: then the whole form is due."""
    return bool(chosen(answers, CHANGED) - {f.NONE})


def whole_from_recheck(answers: Answers) -> dict[str, object]:
    """What of a re-check's answers goes into the whole form that it leads to: all but what is asked there anew."""
    kept = without(answers, ANEW_IN_FULL)
    told_just_now = (*q.EMERGENCY_FLAGS, "H17", "H17.words", CHANGED)
    return kept | {key: answers[key] for key in told_just_now if key in answers}


def recheck_screens(
    rulebook: Rulebook,
    answers: Answers,
    *,
    on: date,
    told_on: date,
    born_on: date | None = None,
    asked: Collection[str] = (),
) -> list[Screen]:
    """The two screens of the re-check, then each screen of the whole form that cannot be taken as it was.

    `told_on` is the day of the form that is confirmed; `asked` names screens that stay because they were asked already.
    """
    safety = follow_ups.flags("safety", q.EMERGENCY_FLAGS, rulebook, title="First of all")
    due = due_screens(rulebook, answers, on=on, born_on=born_on)
    today = next(field for screen in due for field in screen.fields if field.id == "H17")
    since = f.many(CHANGED, f"Since {day_in_words(told_on)}, has there been any of these?", WHAT_CHANGED)
    title, why = "Since then", "If something changed, the whole form comes next, with your earlier answers in it."
    recheck = Screen("recheck", title, "Is it still as you told us?", why, (since, today, *_words_of_today(due)))
    doubtful = {one.screen_id for one in doubts(rulebook, answers, on=on, born_on=born_on)}
    again = [
        screen
        for screen in due
        if screen.id not in ("safety", "H17")
        and (screen.id in asked or screen.id in doubtful or _lacks(screen, answers))
    ]
    return [Screen(safety.id, safety.title, safety.question, WHY_FIRST, safety.fields), recheck, *again]


def _words_of_today(due: list[Screen]) -> tuple[f.Field, ...]:
    return tuple(field for screen in due for field in screen.fields if field.id == "H17.words")


def _lacks(screen: Screen, answers: Answers) -> bool:
    return any(field.required and not f.is_answered(field, answers) for field in screen.fields)


@dataclass(frozen=True)
class Recheckable:
    """What decides whether a re-check will do. `holds_until` is None when no signed form stands."""

    holds_until: date | None
    whole_on: date | None
    is_asked_in_full: bool


def why_whole(facts: Recheckable, *, on: date, asks_again: str) -> str:
    """Why the whole form is asked instead, in words for the studio; empty when a re-check will do.

    `asks_again` is what the absence asks for: nothing, quick or full.
    """
    if facts.holds_until is None or facts.whole_on is None:
        return "No signed form stands: the whole form comes first."
    if on > facts.holds_until:
        return "The last whole form has run out: the whole form comes again."
    if facts.is_asked_in_full or asks_again == "full":
        return "The whole form is asked for again: a re-check is too little."
    return ""
