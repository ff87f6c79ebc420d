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
