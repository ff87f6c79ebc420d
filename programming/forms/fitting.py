"""Shapes of what a teacher taps before and while a program is fitted: the check-in, the build, waivers."""

from typing import Any

from django import forms

from programming.rules import bodies, checkins
from programming.rules.checkins import Answers, Side, Slept, Sore

SORE_CHOICES = [
    (".".join(filter(None, [site.key, side])), site.words)
    for site in checkins.SITES
    for side in ((*Side,) if site.is_sided else ("",))
]


class CheckInForm(forms.Form):
    """One tap for nothing new; one for a place and one for how strong it is; or one for a sign."""

    sore = forms.MultipleChoiceField(choices=SORE_CHOICES, required=False, label="Where")
    slept = forms.ChoiceField(choices=[(word.value, word.value) for word in Slept], required=False)
    pain = forms.IntegerField(min_value=0, max_value=checkins.MOST_PAIN, required=False, label="How strong")
    sign = forms.ChoiceField(choices=[(sign.key, sign.words) for sign in checkins.SIGNS], required=False)
    nothing = forms.BooleanField(required=False)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if not self.errors and not (given["nothing"] or given["sign"]) and given["pain"] is None:
            self.add_error("pain", "How strong is it? Tap a number, or tap “Nothing new”.")
        return given

    @property
    def answers(self) -> Answers:
        """What was tapped. “Nothing new” leaves places out that were tapped before it."""
        given = self.cleaned_data
        slept = Slept(given["slept"]) if given["slept"] else None
        if given["nothing"]:
            return Answers(slept=slept)
        signs = (given["sign"],) if given["sign"] else ()
        return Answers(_sores(given["sore"]), given["pain"] or 0, slept, signs)


def _sores(given: list[str]) -> tuple[Sore, ...]:
    """Left and right of one place are said as both."""
    sides: dict[str, list[str]] = {}
    for one in given:
        site, _, side = one.partition(".")
        sides.setdefault(site, []).append(side)
    return tuple(Sore(site, Side(found[0]) if len(found) == 1 and found[0] else None) for site, found in sides.items())


class BodyForm(forms.Form):
    notes = forms.MultipleChoiceField(choices=[(note.key, note.words) for note in bodies.NOTES], required=False)
    stature_cm = forms.DecimalField(
        required=False, label="Height, cm", max_digits=5, decimal_places=1, min_value=1, max_value=999
    )
    leg_cm = forms.DecimalField(
        required=False,
        label="Leg length, cm",
        max_digits=5,
        decimal_places=1,
        min_value=1,
        max_value=999,
        help_text="Measured sitting, leg straight, from the wall behind the back to the sole. "
        "Left open it is estimated from the height, and said so.",
    )
    sex = forms.ChoiceField(
        choices=[("", "leave it open"), ("female", "female"), ("male", "male")],
        required=False,
        label="For the estimate of the leg, take the line for",
        help_text="Used for nothing else. Left open, the ratio to the height is taken.",
    )

    @property
    def facts(self) -> bodies.BodyFacts:
        given = self.cleaned_data
        return bodies.BodyFacts(
            notes=frozenset(given["notes"]),
            stature_mm=_millimetres(given["stature_cm"]),
            leg_mm=_millimetres(given["leg_cm"]),
            sex=given["sex"],
        )


def _millimetres(centimetres: Any) -> int | None:
    return None if centimetres is None else round(centimetres * 10)


def body_initial(facts: bodies.BodyFacts) -> dict[str, Any]:
    """What the form shows of what is kept."""
    return {
        "notes": sorted(facts.notes),
        "stature_cm": None if facts.stature_mm is None else f"{facts.stature_mm / 10:g}",
        "leg_cm": None if facts.leg_mm is None else f"{facts.leg_mm / 10:g}",
        "sex": facts.sex,
    }


class WaiverForm(forms.Form):
    exercise = forms.CharField(max_length=12)
    equivalent = forms.CharField(
        max_length=12,
        required=False,
        label="Seen in its place",
        help_text="The number of an exercise that asks the same, as the repertoire has it. It may stay open.",
    )
    reason = forms.CharField(
        max_length=300,
        label="What you saw",
        help_text="A few words, kept sealed with your name and the day.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
