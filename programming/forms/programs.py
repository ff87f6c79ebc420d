"""Shapes of what a teacher chooses in a fitted program."""

from django import forms

from programming.rules.by_hand import MOST_REPS


class AcceptForm(forms.Form):
    """The positions whose new line is taken; any other keeps its old one where it may."""

    revision = forms.IntegerField(min_value=0, max_value=2**31 - 1)
    line = forms.TypedMultipleChoiceField(
        choices=[(str(place), place) for place in range(1, 201)], coerce=int, required=False
    )


class ChoiceForm(forms.Form):
    choice = forms.CharField(max_length=60, label="What is done")
    revision = forms.IntegerField(min_value=0, max_value=2**31 - 1)
    reps = forms.IntegerField(min_value=1, max_value=MOST_REPS, required=False, label="Repetitions")
