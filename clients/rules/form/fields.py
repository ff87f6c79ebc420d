"""Screens and fields of the health form, as values that a page only has to draw."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

Answers: TypeAlias = Mapping[str, object]

YES, NO, NOT_SURE, NONE, OTHER = "yes", "no", "not_sure", "none", "other"
LONGEST_TEXT = 2000


class FieldKind(StrEnum):
    """The shape of an answer. Yes, no, not sure and choice hold a word; many a list of words; date an ISO date;
    number a whole number; text words; pressure {"systolic": 120, "diastolic": 80} in mmHg."""

    YES_NO = "yes_no"
    YES_NO_UNSURE = "yes_no_unsure"
    CHOICE = "choice"
    MANY = "many"
    TEXT = "text"
    DATE = "date"
    NUMBER = "number"
    PRESSURE = "pressure"


@dataclass(frozen=True)
class Choice:
    """One answer that can be chosen; in a list of many, `none` and what `is_alone` rules out all others."""

    value: str
    label: str
    is_alone: bool = False


@dataclass(frozen=True)
class Field:
    """One question's input. `low` and `high` bound a number; for a date they are days from the day of writing."""

    id: str
    kind: FieldKind
    label: str
    choices: tuple[Choice, ...] = ()
    required: bool = True
    help: str = ""
    low: int | None = None
    high: int | None = None


@dataclass(frozen=True)
class Screen:
    """One screen. `kind` is questions, or emergency: then there is nothing on it but its words."""

    id: str
    title: str
    question: str
    why: str
    fields: tuple[Field, ...]
    kind: str = "questions"


YES_OR_NO = (Choice(YES, "Yes"), Choice(NO, "No"))
YES_NO_OR_NOT_SURE = (*YES_OR_NO, Choice(NOT_SURE, "Not sure"))
SIDES = (Choice("left", "Left"), Choice("right", "Right"), Choice("both", "Both"), Choice(NOT_SURE, "Not sure"))
DAYS_OF_A_LIFE = 365 * 120


def yes_no(field_id: str, label: str, *, help: str = "") -> Field:
    return Field(field_id, FieldKind.YES_NO, label, YES_OR_NO, help=help)


def yes_no_unsure(field_id: str, label: str, *, help: str = "") -> Field:
    return Field(field_id, FieldKind.YES_NO_UNSURE, label, YES_NO_OR_NOT_SURE, help=help)


def choice(field_id: str, label: str, choices: Iterable[Choice], *, help: str = "") -> Field:
    return Field(field_id, FieldKind.CHOICE, label, tuple(choices), help=help)


def many(field_id: str, label: str, choices: Iterable[Choice], *, help: str = "Choose all that fit.") -> Field:
    return Field(field_id, FieldKind.MANY, label, tuple(choices), help=help)


def text(field_id: str, label: str, *, help: str = "") -> Field:
    """Own words are always welcome and never asked for by force."""
    return Field(field_id, FieldKind.TEXT, label, required=False, help=help, high=LONGEST_TEXT)


def number(field_id: str, label: str, *, low: int, high: int, help: str = "") -> Field:
    return Field(field_id, FieldKind.NUMBER, label, help=help, low=low, high=high)


def past_date(
    field_id: str, label: str, *, help: str = "Your best guess will do.", earliest: int | None = None
) -> Field:
    low = -DAYS_OF_A_LIFE if earliest is None else earliest
    return Field(field_id, FieldKind.DATE, label, help=help, low=low, high=0)


def is_answered(field: Field, answers: Answers) -> bool:
    """Whether the field holds an answer; an empty word or list is none."""
    return answers.get(field.id) not in (None, "", [], ())
