"""The client's own form: its signature, typing it in, its versions."""

from typing import Any

from django import forms

from clients import actions
from studio.doors.fields import ReasonedForm

CONSENT = [("yes", "Yes"), ("no", "No")]
CONSENT_KINDS = ("touch", "photographs", "messages")
MOST_SAVES = 2_000_000_000


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
