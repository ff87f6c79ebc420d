"""Shapes of what a teacher chooses for a group."""

from typing import Any

from django import forms

from programming.queries.groups import LineChoice
from programming.rules.timing import Pace
from studio.doors.fields import ReasonedForm


class GroupForm(ReasonedForm):
    """A template for a group: at what pace, with one voice or not, and the lines left out for everybody."""

    template = forms.UUIDField(widget=forms.HiddenInput)
    pace = forms.ChoiceField(label="Pace", choices=[(pace.value, pace.value) for pace in Pace])
    one_voice = forms.BooleanField(
        label="One voice",
        required=False,
        help_text="Everybody joins an easier form that somebody needs. Fewer words; some do less than they could.",
    )
    without = forms.TypedMultipleChoiceField(
        label="Leave out for everybody", coerce=int, required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, lines: list[LineChoice], **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["without"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(line.position, f"{line.position}. {line.name}") for line in lines]
        self.initial.setdefault("pace", Pace.WORKING.value)
