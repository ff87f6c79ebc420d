"""What a teacher writes on a health page, and the reason she opens it for."""

from typing import Any, cast

from django import forms

from clients import actions, queries
from clients.rules import Pressure, triggers
from clients.rules.readings import Sitting
from studio.doors.fields import ReasonedForm

YES_NO_NOT_ASKED = [("", "Not asked"), ("no", "No"), ("yes", "Yes")]


class WhyForm(ReasonedForm):
    why = forms.CharField(
        label="Why do you need to look?",
        max_length=200,
        help_text="Kept with your name and the time, and not sealed: leave health out of it.",
        error_messages={"required": "Write a few words, such as: teaching in place of somebody."},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class OfTheFloorForm(ReasonedForm):
    """What a teacher sends from the health page; `why` goes along when she opened it with a reason.

    `named` sets the fields of several such forms on one page apart.
    """

    named = "deed"
    why = forms.CharField(max_length=200, required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **({"auto_id": f"{self.named}_%s"} | options))


def _number(label: str, **words: Any) -> forms.IntegerField:
    widget = forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    wrong = {"invalid": "Please write a whole number, as the device shows it."}
    return forms.IntegerField(label=label, required=False, widget=widget, error_messages=wrong, **words)


class PressureForm(OfTheFloorForm):
    """One blood pressure, upper and lower number; the repeat of a sitting is no more than this."""

    systolic_1 = _number("Upper number", min_value=0, max_value=999)
    diastolic_1 = _number("Lower number", min_value=0, max_value=999)
    is_sure = forms.BooleanField(label="Yes, the device showed this", required=False)

    def pair(self, number: int) -> Pressure | None:
        """A pressure that was given whole; one half alone is asked for the other."""
        upper, lower = (self.cleaned_data.get(f"{part}_{number}") for part in ("systolic", "diastolic"))
        return None if upper is None or lower is None else Pressure(upper, lower)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for number in (1, 2):
            halves = [f"systolic_{number}", f"diastolic_{number}"]
            given = [name for name in halves if data.get(name) is not None or name in self.errors]
            if len(given) == 1:
                missing = next(name for name in halves if name not in given)
                self.add_error(missing, "Both numbers are needed. What was the other one?")
        return data


class RepeatForm(PressureForm):
    named = "repeat"

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors and self.pair(1) is None:
            self.add_error("systolic_1", "What did the device show the second time?")
        return data


class ReadingsForm(PressureForm):
    named = "readings"
    systolic_2 = _number("Upper number, second time", min_value=0, max_value=999)
    diastolic_2 = _number("Lower number, second time", min_value=0, max_value=999)
    heart_rate = _number("Heart rate", min_value=0, max_value=999, help_text="Beats a minute, at rest.")
    standing_drop = _number(
        "Fall on standing up",
        min_value=-999,
        max_value=999,
        help_text="Upper number seated less upper number standing.",
    )
    has_signs = forms.ChoiceField(
        label="With it: confusion, chest pain, breathlessness or change of sight?",
        choices=YES_NO_NOT_ASKED,
        required=False,
        widget=forms.RadioSelect,
    )
    is_treated = forms.ChoiceField(
        label="Takes medicine for the pressure?", choices=YES_NO_NOT_ASKED, required=False, widget=forms.RadioSelect
    )
    is_faint = forms.BooleanField(label="Feels faint or dizzy now", required=False)

    def sitting(self) -> Sitting:
        """What was typed, for the rules to look at."""
        told = {"yes": True, "no": False}
        return Sitting(
            pressures=tuple(filter(None, (self.pair(1), self.pair(2)))),
            heart_rate=self.cleaned_data["heart_rate"],
            is_treated=told.get(self.cleaned_data["is_treated"]),
            has_signs=told.get(self.cleaned_data["has_signs"]),
            standing_drop=self.cleaned_data["standing_drop"],
            is_faint=self.cleaned_data["is_faint"],
            is_sure=self.cleaned_data["is_sure"],
        )


class RestrictForm(OfTheFloorForm):
    """Movements to leave out or to change. `is_own_words` says that they stand for the client's own words."""

    named = "restrict"
    is_own_words = forms.BooleanField(required=False, widget=forms.HiddenInput)
    demands = forms.MultipleChoiceField(label="Movements", required=False, widget=forms.CheckboxSelectMultiple)
    means_none = forms.BooleanField(label="The words ask for no movement to be left out", required=False)
    level = forms.ChoiceField(
        label="How",
        choices=[("avoid", "Left out"), ("adapt", "Only in its changed form"), ("watch", "Watched")],
        widget=forms.RadioSelect,
        initial="avoid",
    )
    side = forms.ChoiceField(
        label="Side",
        choices=[("", "Both"), ("left", "Left"), ("right", "Right")],
        required=False,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        book = queries.rules_in_force().rulebook
        choices = [(demand_id, demand.name) for demand_id, demand in book.demands.items()]
        cast(forms.MultipleChoiceField, self.fields["demands"]).choices = choices

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        chosen, none = data.get("demands"), data.get("means_none")
        if "demands" in self.errors:
            return data
        if data.get("is_own_words") and not chosen and not none:
            self.add_error("demands", "Which movements do the words mean? If none, say so below.")
        elif chosen and none:
            self.add_error("means_none", "Movements are chosen above. Is it these, or none?")
        return data


class AskAgainForm(OfTheFloorForm):
    """`trigger` is what has happened; `why` stays the reason for looking."""

    named = "asking"
    trigger = forms.ChoiceField(
        label="What has happened?",
        choices=list(triggers.TRIGGERS.items()),
        error_messages={"required": "What has happened? Choose one."},
        widget=forms.RadioSelect,
    )
    kind = forms.ChoiceField(
        label="Which form?", choices=list(triggers.KINDS.items()), initial="full", widget=forms.RadioSelect
    )
    is_sent = forms.BooleanField(label="Send the private link now", required=False)


class SettleForm(OfTheFloorForm):
    named = "settle"
    whose_word = forms.ChoiceField(
        label="Whose word is it?",
        choices=[("", "Choose"), *actions.WHOSE_WORD.items()],
        required=False,
    )
