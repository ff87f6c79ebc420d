"""Answers that cannot both be so: each comes back as a plain question, and nothing is put right by itself."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from clients.rules.days import day_in_words
from clients.rules.form import expecting
from clients.rules.form import fields as f
from clients.rules.form.fields import Answers, FieldKind, Screen
from clients.rules.form.follow_ups import chosen
from clients.rules.form.screens import due_screens
from clients.rules.reference import Rulebook

# What is told elsewhere and is an operation.
OPERATIONS = {
    "H08.conditions": {"C26": "a hip replacement", "C28": "a hip replacement", "hip_unsure": "a hip replacement",
                       "C30": "a knee replacement"},
    "H12.conditions": {"C50": "breast surgery"},
    "H13.way": {"caesarean": "a caesarean"},
}  # fmt: skip
WHICH = "Which is so?"


@dataclass(frozen=True)
class Doubt:
    """A question back to the person: the field it is about, its screen, and another screen that may be the one to put
    right instead (empty when there is none)."""

    field_id: str
    screen_id: str
    says: str
    other_screen_id: str = ""


def doubts(rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None) -> list[Doubt]:
    """What in the answers that are asked for now cannot be, or cannot both be; empty when all goes together."""
    due = due_screens(rulebook, answers, on=on, born_on=born_on)
    at = {field.id: screen.id for screen in due for field in screen.fields}
    live = {key: value for key, value in answers.items() if key in at}
    found = [*_of_the_week(live), *_of_the_pregnancy(live, on=on), *_of_operations(live)]
    found += _before_birth(due, live, born_on)
    return [
        Doubt(field_id, at[field_id], says, at[other] if other and at[other] != at[field_id] else "")
        for field_id, says, other in found
    ]


def on_screen(
    screen: Screen, rulebook: Rulebook, answers: Answers, *, on: date, born_on: date | None = None
) -> dict[str, str]:
    """The questions that can be answered on this screen alone, by field: they are put before going on."""
    here = {field.id for field in screen.fields}
    found = doubts(rulebook, answers, on=on, born_on=born_on)
    return {one.field_id: one.says for one in found if one.field_id in here and not one.other_screen_id}


Found = Iterator[tuple[str, str, str]]


def _of_the_week(live: Answers) -> Found:
    days, minutes, effort = (live.get(f"H01.{part}") for part in ("days", "minutes", "effort"))
    if not isinstance(days, int) or not isinstance(minutes, int):
        return
    if days == 0 and minutes > 0:
        yield "H01.days", f"You wrote 0 days a week, and {minutes} minutes on such a day. On how many days is it?", ""
    if days > 0 and minutes == 0:
        yield "H01.minutes", f"You wrote {_days(days)} a week, and 0 minutes. For how many minutes is it?", ""
    if days > 0 and minutes > 0 and effort == f.NONE:
        yield "H01.effort", f"You wrote {_days(days)} a week, and that you do not exercise by plan. {WHICH}", ""


def _of_the_pregnancy(live: Answers, *, on: date) -> Found:
    due, birth = _day(live, "H13.due"), _day(live, "H13.birth")
    weeks = live.get("H13.weeks")
    if due and isinstance(weeks, int) and (along := expecting.days_along(due, on=on) // 7) != weeks:
        yield (
            "H13.weeks",
            f"A baby due on {day_in_words(due)} is {along} weeks along today, and you wrote {weeks}. {WHICH} "
            "One of the two is enough: empty the other.",
            "",
        )
    if due and (on - due).days > expecting.LONGEST_OVERDUE:
        yield "H13", f"The baby was due on {day_in_words(due)}. Was it born, or is the date another one?", "H13.due"
    if due and birth and expecting.too_soon_after(birth, due):
        says = (
            f"You told of a birth on {day_in_words(birth)}, and of a baby due on {day_in_words(due)}. "
            f"Both cannot be. {WHICH}"
        )
        yield "H13.birth", says, "H13.due"


def _of_operations(live: Answers) -> Found:
    if live.get("H10") != f.NO:
        return
    for field_id, names in OPERATIONS.items():
        told = chosen(live, field_id) or {live.get(field_id)}
        for name in dict.fromkeys(names[one] for one in names if one in told):
            yield "H10", f"You answered that you had no operation, and told of {name}, which is one. {WHICH}", field_id


def _before_birth(due: list[Screen], live: Answers, born_on: date | None) -> list[tuple[str, str, str]]:
    """A day that was kept before the card knew the birthday."""
    if born_on is None:
        return []
    days = [field for screen in due for field in screen.fields if field.kind is FieldKind.DATE and field.high == 0]
    early = [(field.id, day) for field in days if (day := _day(live, field.id)) and day < born_on]
    born = day_in_words(born_on)
    return [
        (field_id, f"{day_in_words(day)} is before you were born, on {born}. When was it?", "")
        for field_id, day in early
    ]


def _day(live: Answers, field_id: str) -> date | None:
    value = live.get(field_id)
    try:
        return date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"
