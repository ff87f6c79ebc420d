"""Posted words turned into answers, or into a kind message beside the field. Never raises on what is posted."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from clients.rules.days import day_in_words
from clients.rules.form import expecting
from clients.rules.form import questions as q
from clients.rules.form.fields import LONGEST_TEXT, Field, FieldKind, Screen

ISO_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
WHOLE = re.compile(r"[0-9]{1,6}", re.ASCII)
PAIR = re.compile(r"\s*([0-9]{1,3})\s*(?:/|\s)\s*([0-9]{1,3})\s*", re.ASCII)
SYSTOLIC, DIASTOLIC = (50, 300), (20, 200)
PLEASE = "Please answer this one; without it we cannot go on."
LOOK_AGAIN = "Please look at the date again."
ONE_OF_THESE = "Please choose one of the answers shown."
Refusal = ValueError


def clean(
    screen: Screen, posted: Mapping[str, Sequence[str]], *, on: date, born_on: date | None = None
) -> tuple[dict[str, object], dict[str, str]]:
    """The answers of one screen as they are kept, and a message for each field that holds none that can be kept.

    A field that may stay empty is kept as None when it does. Good answers are returned also beside bad ones. Weeks of
    pregnancy told instead of a due date are kept as the due date that they mean on the day `on`.
    """
    values: dict[str, object] = {}
    errors: dict[str, str] = {}
    for field in screen.fields:
        sent = [one for one in posted.get(field.id, ()) if isinstance(one, str)]
        try:
            value = _cleaned(field, sent, on, born_on)
        except Refusal as refusal:
            errors[field.id] = str(refusal)
            continue
        if value is None and field.required:
            errors[field.id] = PLEASE
        else:
            values[field.id] = value
    if isinstance(weeks := values.get("H13.weeks"), int) and errors.get("H13.due") == PLEASE:
        del errors["H13.due"]
        values |= {"H13.due": expecting.due_on(weeks=weeks, on=on).isoformat(), "H13.weeks": None}
    return values, errors


def _cleaned(field: Field, sent: list[str], on: date, born_on: date | None) -> object:
    if field.kind is FieldKind.MANY:
        return _many(field, sent)
    if field.kind is FieldKind.PRESSURE:
        return _pressure(" ".join(sent))
    first = sent[0] if sent else ""
    if field.kind is FieldKind.TEXT:
        return _text(first)
    first = first[: LONGEST_TEXT + 1].strip()
    if not first:
        return None
    if field.kind is FieldKind.DATE:
        return _date(field, first, on, born_on)
    if field.kind is FieldKind.NUMBER:
        return _number(field, first)
    if first not in {choice.value for choice in field.choices}:
        raise Refusal(ONE_OF_THESE)
    return first


def _many(field: Field, sent: list[str]) -> list[str] | None:
    chosen = {one for one in sent if one}
    if not chosen <= {choice.value for choice in field.choices}:
        raise Refusal(ONE_OF_THESE)
    alone = [choice for choice in field.choices if choice.is_alone and choice.value in chosen]
    if alone and len(chosen) > 1:
        raise Refusal(f"“{alone[0].label}” and another answer do not go together. Please look again.")
    return [choice.value for choice in field.choices if choice.value in chosen] or None


def _text(sent: str) -> str | None:
    if len(sent) > LONGEST_TEXT:
        raise Refusal(f"That is a lot to hold: please keep it to {LONGEST_TEXT:,} characters.")
    kept = "".join(sign for sign in sent if sign in "\n\t" or unicodedata.category(sign) not in ("Cc", "Cs"))
    return kept.strip() or None


def _date(field: Field, sent: str, on: date, born_on: date | None) -> str:
    if not ISO_DATE.fullmatch(sent):
        raise Refusal("Please give a day, month and year, such as 2024-05-31.")
    try:
        day = date.fromisoformat(sent)
    except ValueError:
        raise Refusal("There is no such day. Please look at the date again.") from None
    days = (day - on).days
    is_beyond = (field.high is not None and days > field.high) or (field.low is not None and days < field.low)
    if is_beyond and field.id in q.BEYOND:
        raise Refusal(q.BEYOND[field.id].format(told=day_in_words(day)))
    if field.high == 0 and born_on is not None and day < born_on:
        raise Refusal(f"{day_in_words(day)} is before you were born, on {day_in_words(born_on)}. {LOOK_AGAIN}")
    if field.high is not None and days > field.high:
        late = "That day is still to come." if field.high == 0 else "That day is further away than it can be."
        raise Refusal(f"{late} {LOOK_AGAIN}")
    if field.low is not None and days < field.low:
        earliest = on - timedelta(days=-field.low)
        raise Refusal(f"That is longer ago than we can take; the earliest is {day_in_words(earliest)}. {LOOK_AGAIN}")
    return day.isoformat()


def _number(field: Field, sent: str) -> int:
    bounds = f"Please give a whole number from {field.low} to {field.high}."
    if not WHOLE.fullmatch(sent):
        raise Refusal(bounds)
    value = int(sent)
    if (field.low is not None and value < field.low) or (field.high is not None and value > field.high):
        raise Refusal(q.BEYOND[field.id].format(told=value) if field.id in q.BEYOND else bounds)
    return value


def _pressure(sent: str) -> dict[str, int] | None:
    if not sent.strip():
        return None
    found = PAIR.fullmatch(sent) if len(sent) <= 40 else None
    if found is None:
        raise Refusal("Please give both numbers, such as 120/80, or leave it empty.")
    systolic, diastolic = int(found[1]), int(found[2])
    is_sane = SYSTOLIC[0] <= systolic <= SYSTOLIC[1] and DIASTOLIC[0] <= diastolic <= DIASTOLIC[1]
    if not is_sane or diastolic >= systolic:
        raise Refusal(
            f"{systolic}/{diastolic} cannot be a blood pressure. Which two numbers were shown? "
            "The higher one comes first, such as 120/80."
        )
    return {"systolic": systolic, "diastolic": diastolic}
