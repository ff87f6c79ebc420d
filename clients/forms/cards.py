"""Cards at the desk: finding, adding and changing clients, consents, two cards of one person, lists."""

from typing import Any, cast
from uuid import UUID

from django import forms

from clients import queries
from clients.rules import importing
from studio import queries as studio_queries
from studio.doors.fields import ReasonedForm

CONSENT_KINDS = ("touch", "photographs", "messages")
HEALTH_STAYS = "This looks like health. It belongs on the client’s own form, where only the teachers read it."


class SearchForm(forms.Form):
    """A search travels in the body of a request, so that no name stands in an address."""

    text = forms.CharField(label="Name, phone or e-mail", max_length=120, required=False)


class ClientForm(ReasonedForm):
    name = forms.CharField(label="Name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    email = forms.EmailField(
        label="E-mail",
        max_length=254,
        required=False,
        help_text="The private link to the health form goes here. For a minor: a parent's or guardian's.",
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    phone = forms.CharField(
        label="Phone",
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
    )
    born_on = forms.DateField(
        label="Born on",
        required=False,
        help_text="Under 18, a guardian signs the health form.",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    pronoun = forms.CharField(label="Pronoun", max_length=40, required=False)
    say_it = forms.CharField(label="How to say the name", max_length=120, required=False)
    home_id = forms.ChoiceField(label="Usual location", required=False)
    guardian_name = forms.CharField(label="Guardian of a minor", max_length=120, required=False)
    emergency_name = forms.CharField(label="In an emergency, call", max_length=120, required=False)
    emergency_phone = forms.CharField(
        label="Their phone", max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel"})
    )
    notes = forms.CharField(
        label="Notes for everyone",
        max_length=2000,
        required=False,
        help_text="Nothing about health: that belongs on the client's own form.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if not self.is_bound or not self.errors:
            self.fields["name"].widget.attrs["autofocus"] = True
        choices = [(str(studio.id), studio.name) for studio in studio_queries.studios()]
        cast(forms.ChoiceField, self.fields["home_id"]).choices = [("", "Any of them"), *choices]

    def clean_home_id(self) -> int | None:
        return int(self.cleaned_data["home_id"]) if self.cleaned_data["home_id"] else None


class NewClientForm(ClientForm):
    """`different_from` holds the cards that were shown and are somebody else."""

    different_from = forms.CharField(required=False, max_length=600, widget=forms.HiddenInput)

    def clean_different_from(self) -> tuple[UUID, ...]:
        found = []
        for text in self.cleaned_data["different_from"].split():
            try:
                found.append(UUID(text))
            except ValueError:
                continue
        return tuple(found)


class ConsentForm(ReasonedForm):
    """A consent told at the desk, or taken back there."""

    deed = forms.ChoiceField(choices=[("give", "given"), ("take_back", "taken back")])
    kind = forms.ChoiceField(choices=[(kind, kind) for kind in CONSENT_KINDS])
    given_by = forms.CharField(label="Who gives it", max_length=120, required=False)


class MergeForm(ReasonedForm):
    """One choice for each field in which two cards differ; kinds of consent that stay open by word of mouth."""

    def __init__(self, *args: Any, sides: queries.SideBySide, **options: Any) -> None:
        super().__init__(*args, **options)
        for line in sides.lines:
            choices = [("kept", line.kept), ("gone", line.gone), *([("both", "both")] if line.may_keep_both else [])]
            self.fields[line.key] = forms.ChoiceField(label=line.word, choices=choices)
        self.keys = [line.key for line in sides.lines]
        self.fields["stay_open"] = forms.MultipleChoiceField(choices=sides.consents, required=False)
        # The refusals of a merge name the other card.
        self.fields["other"] = forms.CharField(required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        choices = {key: data[key] for key in self.keys if key in data}
        return {"choices": choices, "stay_open": data.get("stay_open", [])}


class ListFileForm(ReasonedForm):
    file = forms.FileField(
        label="The list",
        max_length=200,
        help_text="A CSV file of at most 2 MB and 5,000 rows, one person a row, column names in the first one.",
        error_messages={"required": "Choose the file first.", "empty": "That file is empty."},
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,text/csv"}),
    )


class ColumnsForm(ReasonedForm):
    """What each column of a list holds, and how its days are written."""

    days = forms.ChoiceField(
        label="Days are written",
        choices=[
            ("iso", "1985-05-31"),
            ("day_first", "31.05.1985, day first"),
            ("month_first", "05/31/1985, month first"),
        ],
    )
    # A reason about all columns goes here.
    columns = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, header: tuple[str, ...], **options: Any) -> None:
        super().__init__(*args, **options)
        for number, title in enumerate(header):
            is_health = importing.is_health(title)
            left = [("", "leave it out")]
            taken = [] if is_health else list(importing.COLUMNS.items())
            self.fields[f"column_{number}"] = forms.ChoiceField(
                label=title or f"Column {number + 1}",
                choices=left + taken,
                required=False,
                help_text=HEALTH_STAYS if is_health else "",
                error_messages={"invalid_choice": HEALTH_STAYS if is_health else "A card has no such field."},
            )
        self.width = len(header)

    def columns_told(self) -> list[str]:
        return [self.cleaned_data[f"column_{number}"] for number in range(self.width)]


class BringInForm(ReasonedForm):
    """The lines that look like somebody and are somebody else, and the mark of what was seen."""

    also = forms.TypedMultipleChoiceField(coerce=int, required=False)
    seen = forms.CharField(max_length=32, widget=forms.HiddenInput)

    def __init__(self, *args: Any, lines: list[int], **options: Any) -> None:
        super().__init__(*args, **options)
        cast(forms.TypedMultipleChoiceField, self.fields["also"]).choices = [(str(one), str(one)) for one in lines]
