"""Shapes of the desk's input about clients; what is allowed is decided by rules and actions."""

from typing import Any, cast
from uuid import UUID

from django import forms

from clients import actions
from studio import queries as studio_queries
from studio.doors.fields import ReasonedForm

CONSENT = [("yes", "Yes"), ("no", "No")]
CONSENT_KINDS = ("touch", "photographs", "messages")
MOST_SAVES = 2_000_000_000


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
    signed_as = forms.ChoiceField(choices=[("client", "client"), ("guardian", "guardian")], required=False)
    on_paper_of = forms.DateField(
        label="Day written on the paper",
        required=False,
        help_text="Only for a paper form. It holds a year from that day.",
        error_messages={"invalid": "There is no such day. Which day is written on the paper?"},
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    touch = forms.ChoiceField(choices=CONSENT, required=False)
    photographs = forms.ChoiceField(choices=CONSENT, required=False)
    messages = forms.ChoiceField(choices=CONSENT, required=False)
    # Which answers and which rules the card showed; both travel with it.
    saves = forms.IntegerField(required=False, min_value=0, max_value=MOST_SAVES, widget=forms.HiddenInput)
    rules_id = forms.IntegerField(required=False, min_value=0, max_value=MOST_SAVES, widget=forms.HiddenInput)

    def signature(self) -> dict[str, Any]:
        """What the action that signs is given."""
        data = self.cleaned_data
        read = None
        if data["saves"] is not None and data["rules_id"] is not None:
            read = actions.Read(data["saves"], data["rules_id"])
        return {
            "name": data["name"],
            "signed_as": data["signed_as"],
            "on_paper_of": data["on_paper_of"],
            "consents": {kind: data[kind] == "yes" for kind in CONSENT_KINDS if data[kind]},
            "read": read,
        }


class TypeInForm(ReasonedForm):
    """Asked of whoever does not teach the client now; the others have their reason in their care for her."""

    why = forms.CharField(
        label="Why do you type it in?",
        max_length=200,
        help_text="You have no lesson with this client now, so this is kept with your name and the time.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, needs_why: bool, **options: Any) -> None:
        super().__init__(*args, **options)
        if not needs_why:
            del self.fields["why"]


class VersionsForm(forms.Form):
    """Which two versions are laid beside each other, and the reason of whoever has no care for the client."""

    why = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)
    older = forms.IntegerField(min_value=1, max_value=MOST_SAVES, required=False)
    newer = forms.IntegerField(min_value=1, max_value=MOST_SAVES, required=False)
