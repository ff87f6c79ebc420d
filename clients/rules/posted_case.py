"""What the try page posts, as the plain values of a case, with a plain word back for what cannot be read."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from studio.rules import Reason

Posted = Mapping[str, Sequence[str]]
CONDITIONS = 5
PRESSURES = 2
NONE = "none"
YES_NO = {"yes": True, "no": False, "": None}
# What a device may show at all, in mmHg, beats a minute, or mmHg of a fall on standing.
RANGES = {"systolic": (40, 320), "diastolic": (20, 220), "heart_rate": (20, 260), "standing_drop": (-60, 150)}
LEVELS, SIDES = ("avoid", "adapt", "watch"), ("left", "right", "both")
EFFORTS = ("light_moderate", "vigorous")
DISEASES = ("heart_or_vessels", "diabetes", "kidney")
STATES = ("fever", "ill", "irregular_pulse", "wheezing")
LONGEST = 60


class _Reader:
    """Reads posted words and gathers what is wrong with them, by the field's name on the page."""

    def __init__(self, posted: Posted) -> None:
        self.posted = posted
        self.wrong: list[Reason] = []

    def word(self, name: str) -> str:
        return next(iter(self.posted.get(name, ())), "").strip()

    def many(self, name: str) -> tuple[str, ...]:
        return tuple(dict.fromkeys(one.strip()[:LONGEST] for one in self.posted.get(name, ()) if one.strip()))

    def is_ticked(self, name: str) -> bool:
        return bool(self.word(name))

    def day(self, name: str) -> date | None:
        words = self.word(name)
        if not words:
            return None
        try:
            return date.fromisoformat(words[:LONGEST])
        except ValueError:
            self.wrong.append(Reason("no_such_day", "There is no such day.", name, "a day like 2031-03-12"))
            return None

    def number(self, name: str) -> int | None:
        words, (low, high) = self.word(name), RANGES[name.split(".")[0]]
        if not words:
            return None
        digits = words.removeprefix("-")
        if digits.isascii() and digits.isdecimal() and len(digits) < 4 and low <= int(words) <= high:
            return int(words)
        says = f"Please write a whole number from {low} to {high}."
        self.wrong.append(Reason("not_a_number", says, name, f"{low} to {high}"))
        return None

    def one_of(self, name: str, allowed: Sequence[str]) -> str:
        words = self.word(name)
        if words and words not in allowed:
            self._unlisted(name, allowed)
            return ""
        return words

    def some_of(self, name: str, allowed: Sequence[str]) -> tuple[str, ...]:
        given = self.many(name)
        if not set(given) <= set(allowed):
            self._unlisted(name, allowed)
            return ()
        return given

    def yes_no(self, name: str) -> bool | None:
        return YES_NO[self.one_of(name, ("yes", "no"))]

    def _unlisted(self, name: str, allowed: Sequence[str]) -> None:
        self.wrong.append(Reason("not_listed", "Please choose one of those shown.", name, ", ".join(allowed)))


def read(posted: Posted) -> tuple[dict[str, Any], list[Reason]]:
    """The values of a case (keys as in `trying.facts_from`, and `on`), and what could not be read.

    Of a list of which nothing is ticked nothing is known; "none" ticked alone means that none is there.
    """
    form = _Reader(posted)
    case: dict[str, Any] = {
        "on": form.day("on"),
        "written_on": form.day("written_on"),
        "regularly_active": form.yes_no("regularly_active"),
        "intensity": form.one_of("intensity", EFFORTS),
        "diseases": _known(form.some_of("diseases", (*DISEASES, NONE))),
        "symptoms": _known(form.many("symptoms")),
        "chest_pain_is_new": form.is_ticked("chest_pain_is_new"),
        "supervised_only": form.is_ticked("supervised_only"),
        "has_unread_words": form.is_ticked("has_unread_words"),
        "today": form.some_of("today", STATES),
        "conditions": [one for at in range(CONDITIONS) if (one := _condition(form, at))],
        "flags": _flags(form),
        "readings": _readings(form),
        "pregnancy": _pregnancy(form),
        "restrictions": _restrictions(form),
        "letters": _letters(form),
    }
    return case, form.wrong


def field_of(name: str, case: Mapping[str, Any]) -> str:
    """The page's name of a field that `trying.refusals` names: "conditions.0.since" is "since.0" there."""
    parts = name.split(".")
    if parts[0] == "conditions":
        return f"{parts[2]}.{case['conditions'][int(parts[1])]['at']}"
    if parts[0] == "letters":
        return f"letter_{parts[2]}"
    return {"pregnancy.gates": "gates", "pregnancy.due_on": "due_on", "restrictions.0.demands": "left_out"}.get(
        name, name
    )


def _known(given: tuple[str, ...]) -> tuple[str, ...] | None:
    return tuple(one for one in given if one != NONE) if given else None


def _condition(form: _Reader, at: int) -> dict[str, Any] | None:
    told = {
        "at": at,
        "condition": form.word(f"condition.{at}")[:LONGEST],
        "side": form.one_of(f"side.{at}", SIDES),
        "since": form.day(f"since.{at}"),
        "needs_clearance": form.yes_no(f"clearance.{at}"),
        "is_held": form.is_ticked(f"held.{at}"),
    }
    return told if told["condition"] else None


def _flags(form: _Reader) -> list[dict[str, Any]]:
    without = form.many("flags_without")
    told = dict.fromkeys((*form.many("flags"), *without))
    return [{"flag": one, "needs_met": one not in without} for one in told]


def _readings(form: _Reader) -> dict[str, Any]:
    pairs = []
    for at in range(PRESSURES):
        upper, lower = form.number(f"systolic.{at}"), form.number(f"diastolic.{at}")
        if upper is not None and lower is not None:
            pairs.append({"systolic": upper, "diastolic": lower})
        elif form.word(f"systolic.{at}") and not form.word(f"diastolic.{at}"):
            form.wrong.append(Reason("half_a_pressure", "Which was the lower number?", f"diastolic.{at}"))
        elif form.word(f"diastolic.{at}") and not form.word(f"systolic.{at}"):
            form.wrong.append(Reason("half_a_pressure", "Which was the upper number?", f"systolic.{at}"))
    return {
        "pressures": pairs,
        "heart_rate": form.number("heart_rate"),
        "standing_drop": form.number("standing_drop"),
        "is_treated": form.yes_no("is_treated"),
        "has_signs": form.yes_no("has_signs"),
        "faint_with_low_pressure": form.is_ticked("faint_with_low_pressure"),
    }


def _pregnancy(form: _Reader) -> dict[str, Any] | None:
    told = {"due_on": form.day("due_on"), "gates": form.many("gates")}
    return told if form.is_ticked("is_pregnant") or any(told.values()) else None


def _restrictions(form: _Reader) -> list[dict[str, Any]]:
    demands, level = form.many("left_out"), form.one_of("left_out_level", LEVELS)
    return [{"demands": demands, "level": level}] if demands else []


def _letters(form: _Reader) -> list[dict[str, Any]]:
    told = {
        "dated": form.day("letter_dated"),
        "holds_until": form.day("letter_holds_until"),
        "effort": form.one_of("letter_effort", EFFORTS),
        "answers": _ids(form.word("letter_answers")),
        "allows": form.many("letter_allows"),
        "forbids": form.many("letter_forbids"),
    }
    return [told] if any(told.values()) else []


def _ids(words: str) -> tuple[str, ...]:
    """Rule ids with commas between them: "C01, leaf 5"."""
    return tuple(" ".join(one.split())[:LONGEST] for one in words[:2000].split(",") if one.strip())
