"""Readings at rest as they are typed in: what cannot be right is asked back, and which of them count beside the form.

The bounds are wide: they tell a slip of the hand from a reading, and say nothing about health. All are from memory.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from clients.rules.facts import Pressure, Readings
from clients.rules.gates import counted_pressure
from studio.rules import Reason

# A high pressure is measured again after so long (nice_ng136); later than an hour it is another sitting.
REST, ONE_SITTING = timedelta(minutes=5), timedelta(minutes=60)
MOST_READINGS = 4
SYSTOLIC, DIASTOLIC, PULSE, DROP = (50, 300), (20, 200), (25, 250), (-60, 150)
RARE_SYSTOLIC, RARE_DIASTOLIC, RARE_PULSE = (75, 220), (40, 130), (38, 160)
LEAST_BETWEEN, MOST_APART = 10, 40


@dataclass(frozen=True)
class Sitting:
    """One sitting as typed: pressures in mmHg in the order taken, the pulse in beats a minute; None is not taken.

    `standing_drop` is the systolic fall on standing up, in mmHg. `is_sure` answers that a rare number was shown so.
    """

    pressures: tuple[Pressure, ...] = ()
    heart_rate: int | None = None
    is_treated: bool | None = None
    has_signs: bool | None = None
    standing_drop: int | None = None
    is_faint: bool = False
    is_sure: bool = False

    @property
    def readings(self) -> Readings:
        """The same as the gates read it."""
        return Readings(
            pressures=self.pressures,
            heart_rate=self.heart_rate,
            is_treated=self.is_treated,
            has_signs=self.has_signs,
            standing_drop=self.standing_drop,
            faint_with_low_pressure=self.is_faint,
        )


def doubts(sitting: Sitting) -> tuple[Reason, ...]:
    """Plain questions back about what was typed; empty when nothing is in doubt.

    What cannot be is asked for again (`cannot_be`). What is rare is kept once `is_sure` answers the question (`sure`).
    """
    if not sitting.pressures and sitting.heart_rate is None and sitting.standing_drop is None:
        return (Reason("nothing_taken", "Which reading did you take?", field="systolic_1", allowed="one reading"),)
    impossible = tuple(_impossible(sitting))
    return impossible if impossible or sitting.is_sure else tuple(_rare(sitting))


def _impossible(sitting: Sitting) -> Iterator[Reason]:
    for number, pair in enumerate(sitting.pressures, start=1):
        told = f"{pair.systolic}/{pair.diastolic}"
        if not (_within(pair.systolic, SYSTOLIC) and _within(pair.diastolic, DIASTOLIC)):
            says = f"{told} cannot be a blood pressure. Which two numbers did the device show?"
            yield Reason("cannot_be", says, field=f"systolic_{number}", allowed="such as 120 and 80")
        elif pair.systolic - pair.diastolic < LEAST_BETWEEN:
            says = f"{told}: the upper number is the higher one. Which two numbers did the device show?"
            yield Reason("cannot_be", says, field=f"systolic_{number}", allowed="such as 120 and 80")
    if sitting.heart_rate is not None and not _within(sitting.heart_rate, PULSE):
        says = f"{sitting.heart_rate} beats a minute at rest: what did the device show?"
        yield Reason("cannot_be", says, field="heart_rate", allowed=f"{PULSE[0]} to {PULSE[1]}")
    if sitting.standing_drop is not None and not _within(sitting.standing_drop, DROP):
        says = f"A fall by {sitting.standing_drop} on standing up: what was the upper number before and after?"
        yield Reason("cannot_be", says, field="standing_drop", allowed="the difference in mmHg")


def _rare(sitting: Sitting) -> Iterator[Reason]:
    shown = [f"{pair.systolic}/{pair.diastolic}" for pair in sitting.pressures if _is_rare(pair)]
    if sitting.heart_rate is not None and not _within(sitting.heart_rate, RARE_PULSE):
        shown.append(f"{sitting.heart_rate} beats a minute")
    if shown:
        says = f"{' and '.join(shown)} is rare at rest. Is that what the device showed?"
        yield Reason("sure", says, field="is_sure", allowed="yes, or other numbers")
    systolics = [pair.systolic for pair in sitting.pressures[-2:]]
    if systolics and max(systolics) - min(systolics) > MOST_APART:
        says = f"{systolics[0]} and {systolics[-1]} lie far apart. Did the device show both?"
        yield Reason("sure", says, field="is_sure", allowed="yes, or other numbers")


def _is_rare(pair: Pressure) -> bool:
    return not (_within(pair.systolic, RARE_SYSTOLIC) and _within(pair.diastolic, RARE_DIASTOLIC))


def _within(value: int, bounds: tuple[int, int]) -> bool:
    return bounds[0] <= value <= bounds[1]


def beside_the_form(told: Readings, sitting: Sitting | None, *, taken_on: date | None, written_on: date) -> Readings:
    """What counts of the form's own words and the last sitting.

    A measured pressure counts before a told one, save that a higher one told on a later day is not hidden by it. What
    a sitting did not ask stays as told; signs told or seen on either day count until a later sitting says otherwise.
    """
    if sitting is None or taken_on is None:
        return told
    seen, is_older = sitting.readings, taken_on < written_on
    if is_older and _is_higher(told.told, counted_pressure(replace(seen, told=None))):
        seen = replace(seen, pressures=())
    return replace(
        seen,
        told=told.told,
        is_treated=told.is_treated if seen.is_treated is None or is_older else seen.is_treated,
        has_signs=_signs(told.has_signs, seen.has_signs, is_older=is_older),
    )


def _is_higher(told: Pressure | None, seen: Pressure | None) -> bool:
    if told is None or seen is None:
        return False
    return told.systolic > seen.systolic or told.diastolic > seen.diastolic


def _signs(told: bool | None, seen: bool | None, *, is_older: bool) -> bool | None:
    if seen is None or told is None:
        return told if seen is None else seen
    return (told or seen) if is_older else seen
