"""A client's whole record: taken out, erased."""

from typing import Any

from django import forms

from studio.doors.fields import ReasonedForm


class RecordForm(ReasonedForm):
    """Taking out a record: asked for by whom and why, and the password once more."""

    why = forms.CharField(
        label="Why is it taken out?",
        max_length=200,
        help_text="Kept for good with your name, so leave the client's name out. “Asked for by the client” will do.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    password = forms.CharField(
        label="Your password once more",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class EraseForm(RecordForm):
    typed = forms.CharField(
        label="The name on the card, to confirm",
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    field_order = ("typed", "why", "password")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["why"].label = "Why is it erased?"
