"""The rule workbench: choices, versions, reviews."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from clients.forms.letters import ManyFiles
from studio.doors.fields import ReasonedForm


class ReasonForm(ReasonedForm):
    """A deed in somebody's name."""

    why = forms.CharField(
        label="Why?",
        max_length=200,
        help_text="Kept with your name and the time. No client’s name here.",
        error_messages={"required": "Say why in a few words; it is kept with your name."},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class ChoiceForm(ReasonForm):
    """One point of the rules: a position, or a line as a whole number."""

    def __init__(self, *args: Any, options: Sequence[tuple[str, str]], unit: str, **words: Any) -> None:
        super().__init__(*args, **words)
        if options:
            self.fields["value"] = forms.ChoiceField(label="Position", choices=options, widget=forms.RadioSelect)
        else:
            widget = forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
            self.fields["value"] = forms.CharField(label=f"Line, {unit}", max_length=10, widget=widget)
        self.order_fields(["value", "why"])


class ProposeForm(ReasonedForm):
    note = forms.CharField(
        label="What is this version for?",
        max_length=200,
        error_messages={"required": "Say in a few words what this version is for."},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class RowForm(ProposeForm):
    """One row of a table: a field for each column that is not its key, with the words that the rules know."""

    def __init__(
        self, *args: Any, cells: Sequence[tuple[str, str]], known: Mapping[str, Sequence[str]], **words: Any
    ) -> None:
        super().__init__(*args, **words)
        for column, value in cells:
            label = column.replace("_", " ").capitalize()
            options = [(one, one.replace("_", " ") or "none") for one in known.get(column, ())]
            self.fields[column] = (
                forms.ChoiceField(label=label, choices=options, initial=value, required=False)
                if options
                else forms.CharField(label=label, initial=value, required=False, max_length=2000, widget=_cell(value))
            )
        self.order_fields([*(column for column, _ in cells), "note"])

    def values(self) -> dict[str, str]:
        return {name: value for name, value in self.cleaned_data.items() if name != "note"}


def _cell(value: str) -> forms.Widget:
    return forms.Textarea(attrs={"rows": 2}) if len(value) > 60 else forms.TextInput(attrs={"autocomplete": "off"})


class UploadForm(ProposeForm):
    """Changed tables; the page reads the files, each no further than the largest that is taken."""

    tables = forms.CharField(
        label="Changed tables (CSV)",
        required=False,
        help_text="One or more files named like their table, such as limits.csv. The other tables stay as they are.",
        widget=ManyFiles(attrs={"accept": ".csv,text/csv"}),
    )
    field_order = ("tables", "note")


class ReviewForm(ReasonedForm):
    """A review as it was told to the owner."""

    name = forms.CharField(label="Who read it", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    profession = forms.CharField(label="Licensed as", max_length=120, help_text="Such as physiotherapist.")
    on = forms.DateField(label="On", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    what = forms.CharField(
        label="What was read", max_length=300, help_text="Such as: conditions and limits, pressure and pulse."
    )
