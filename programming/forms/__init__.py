"""Shapes of what people type and tap on the floor and in the repertoire."""

from django import forms

from programming.rules.marks import Mark
from programming.rules.timing import Pace


class AssignForm(forms.Form):
    template = forms.UUIDField()
    pace = forms.ChoiceField(
        choices=[(pace.value, pace.value) for pace in Pace], initial=Pace.WORKING.value, required=False
    )
    why = forms.CharField(max_length=200, required=False)

    def clean_pace(self) -> Pace:
        return Pace(self.cleaned_data["pace"] or Pace.WORKING)


class WhyForm(forms.Form):
    why = forms.CharField(
        max_length=200,
        label="Why you need to look",
        help_text="A few words, kept with your name and not sealed: leave health out of them.",
    )


class MarkForm(forms.Form):
    line = forms.UUIDField()
    mark = forms.ChoiceField(choices=[(mark.value, mark.value) for mark in Mark])

    def clean_mark(self) -> Mark:
        return Mark(self.cleaned_data["mark"])


class LineForm(forms.Form):
    line = forms.UUIDField()


class ScoreForm(forms.Form):
    line = forms.UUIDField()
    score = forms.IntegerField(min_value=0, max_value=5)


class NoteForm(forms.Form):
    note = forms.CharField(
        required=False,
        max_length=2000,
        label="What you saw",
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text="Kept sealed: only those who teach this client read it.",
    )


class ExerciseForm(forms.Form):
    """What a studio settles for itself; the rules have the last word on the figures."""

    reps_low = forms.CharField(max_length=3, label="Repetitions, at least", widget=forms.NumberInput)
    reps_high = forms.CharField(max_length=3, label="Repetitions, at most", widget=forms.NumberInput)
    springs_usual = forms.CharField(max_length=2, required=False, label="Springs, usual", widget=forms.NumberInput)
    springs_min = forms.CharField(max_length=2, required=False, label="Springs, fewest", widget=forms.NumberInput)
    springs_max = forms.CharField(max_length=2, required=False, label="Springs, most", widget=forms.NumberInput)
    tempo_seconds_per_rep = forms.CharField(
        max_length=5, label="Seconds a repetition", widget=forms.NumberInput(attrs={"step": "any"})
    )
    setup_seconds = forms.CharField(
        max_length=5, label="Seconds to set up", widget=forms.NumberInput(attrs={"step": "any"})
    )
    level = forms.CharField(max_length=1, label="Level", widget=forms.NumberInput, help_text="1 to 5")
    usual_regression = forms.CharField(
        max_length=300, required=False, label="Usual easier form", widget=forms.Textarea(attrs={"rows": 3})
    )
    note = forms.CharField(max_length=300, required=False, label="Note", widget=forms.Textarea(attrs={"rows": 2}))
