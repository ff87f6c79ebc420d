"""Shapes of what people type of springs and machines: lengths in centimetres, readings in one unit."""

from typing import Any

from django import forms

from scheduling.forms import DayField
from scheduling.rules import springs
from scheduling.rules.wear import Finding
from studio.doors.fields import ReasonedForm
from studio.rules import ApparatusKind

MEASURED = {
    ApparatusKind.REFORMER: {"bar_to_rest_m", "foot_above_hip_m", "track_m"},
    ApparatusKind.CHAIR: {"pedal_ratio"},
}


class CentimetresField(forms.FloatField):
    """A length typed in centimetres; cleans to metres, None when empty."""

    def __init__(self, **options: Any) -> None:
        widget = forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})
        super().__init__(**{"widget": widget, "required": False, **options})

    def clean(self, value: Any) -> Any:
        typed = super().clean(value)
        return None if typed is None else typed / 100

    def prepare_value(self, value: Any) -> Any:
        return f"{100 * value:g}" if isinstance(value, float) else value


class CalibrateForm(ReasonedForm):
    """Extensions in centimetres and what was read at each, in one unit; rows that are empty are left out."""

    ROWS = 6
    UNITS = {"newton": 1.0, "kilogram": springs.newtons_of_mass(1.0), "pound": springs.newtons_of_mass(0.45359237)}
    measured_on = DayField(label="Measured on")
    instrument = forms.CharField(label="With what", max_length=80, help_text="Luggage scale, hung weights, a gauge.")
    unit = forms.ChoiceField(
        label="Readings are in",
        choices=[("newton", "newtons"), ("kilogram", "kilograms (hung, or on a scale)"), ("pound", "pounds")],
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for number in range(1, self.ROWS + 1):
            self.fields[f"x{number}"] = CentimetresField(label=f"Extension {number}, cm")
            widget = forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})
            self.fields[f"f{number}"] = forms.FloatField(label=f"Reading {number}", required=False, widget=widget)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for number in range(1, self.ROWS + 1):
            x, force = data.get(f"x{number}"), data.get(f"f{number}")
            if (x is None) != (force is None) and not {f"x{number}", f"f{number}"} & set(self.errors):
                missing = f"x{number}" if x is None else f"f{number}"
                self.add_error(missing, "An extension and its reading belong together.")
        return data

    def pairs(self) -> list[tuple[int, Any, Any]]:
        return [(number, self[f"x{number}"], self[f"f{number}"]) for number in range(1, self.ROWS + 1)]

    def points(self) -> list[tuple[float, float]]:
        """(metre, newton); only after `is_valid`."""
        data, factor = self.cleaned_data, self.UNITS[self.cleaned_data["unit"]]
        numbers = (number for number in range(1, self.ROWS + 1) if data[f"x{number}"] is not None)
        return [(data[f"x{number}"], data[f"f{number}"] * factor) for number in numbers]


class SpringForm(ReasonedForm):
    serial = forms.CharField(label="Written on it", max_length=40, required=False)
    free_length = CentimetresField(label="Length unhooked, cm", help_text="Coils closed, between the hooks.")


class HangForm(ReasonedForm):
    stiffness_class = forms.ChoiceField(label="Class", choices=[(name, name) for name in springs.CLASSES])
    serial = forms.CharField(label="Written on it", max_length=40, required=False)


class ReplaceForm(ReasonedForm):
    serial = forms.CharField(label="Written on the new one", max_length=40, required=False)


class LookForm(ReasonedForm):
    """What was seen or heard; no tick means nothing was found."""

    findings = forms.TypedMultipleChoiceField(
        label="Seen or heard",
        coerce=Finding,
        required=False,
        choices=[(finding.value, finding.words) for finding in Finding],
        widget=forms.CheckboxSelectMultiple,
    )


class MeasuresForm(ReasonedForm):
    """Lengths of a machine, named as `actions.springs.MEASURES`."""

    bar_to_rest_m = CentimetresField(
        label="Foot bar to shoulder rest, cm", help_text="Level, with the carriage home at its usual stop."
    )
    foot_above_hip_m = CentimetresField(label="Foot bar above the hip, cm", help_text="From the hip of somebody lying.")
    track_m = CentimetresField(label="Length of the track, cm", help_text="How far the carriage can go.")
    pedal_ratio = forms.FloatField(
        label="Arm of the spring, as a share of the pedal's",
        required=False,
        min_value=0.05,
        max_value=3,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
        help_text="0.5 when the spring pulls half as far from the hinge as the foot presses.",
    )

    def __init__(self, *args: Any, kind: ApparatusKind, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in set(self.fields) - MEASURED.get(kind, set()):
            del self.fields[name]
