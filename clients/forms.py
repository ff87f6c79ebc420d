"""Shapes of the desk's input about clients; what is allowed is decided by rules and actions."""

from typing import Any, cast
from uuid import UUID

from django import forms

from studio import queries as studio_queries
from studio.doors.fields import ReasonedForm


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
        label="Notes for the desk",
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


class WhyForm(ReasonedForm):
    why = forms.CharField(
        label="Why do you need to look?",
        max_length=200,
        help_text="Kept with your name and the time.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class SignForm(ReasonedForm):
    name = forms.CharField(
        max_length=120,
        error_messages={"required": "Please write your name on the line under your answers."},
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    signed_as = forms.ChoiceField(choices=[("client", "client"), ("guardian", "guardian")])
