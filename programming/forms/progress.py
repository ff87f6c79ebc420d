"""Shapes of what is tapped about progress: a decision, a grant, a level, how hard a lesson was, what was felt."""

from django import forms

from programming.rules.felt import SYMPTOMS, Felt
from programming.rules.progress import Step

NOTHING_ELSE = ("", "nothing else")


class StepForm(forms.Form):
    decided = forms.ChoiceField(choices=[(step.value, step.words) for step in Step])

    def clean_decided(self) -> Step:
        return Step(self.cleaned_data["decided"])


class GrantForm(forms.Form):
    owned = forms.ChoiceField(
        choices=[("yes", "owns it"), ("no", "does not own it any more")],
        label="From today on, this client",
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        max_length=300,
        label="Why",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Kept sealed with your name.",
    )


class LevelForm(forms.Form):
    level = forms.IntegerField(min_value=1, max_value=5, label="Level", widget=forms.NumberInput)
    flows = forms.BooleanField(required=False, label="I have seen the series done with its transitions")
    reason = forms.CharField(
        max_length=200,
        required=False,
        label="Reason, when the log does not show it yet",
        help_text="Kept with your name and not sealed: leave health out of it.",
    )


class EffortForm(forms.Form):
    effort = forms.IntegerField(min_value=0, max_value=10)


class FeltForm(forms.Form):
    line = forms.UUIDField()
    pain = forms.TypedChoiceField(
        choices=[("", "not asked"), *((str(n), str(n)) for n in range(11))],
        coerce=int,
        empty_value=None,
        required=False,
        label="Pain, 0 to 10",
        widget=forms.RadioSelect,
    )
    symptom = forms.ChoiceField(
        choices=[NOTHING_ELSE, *((one.key, one.words) for one in SYMPTOMS.values())],
        required=False,
        label="What else was felt",
        widget=forms.RadioSelect,
    )
    lasting = forms.BooleanField(required=False, label="Still there the day after")

    @property
    def felt(self) -> Felt:
        given = self.cleaned_data
        return Felt(given["pain"], given["symptom"], given["lasting"])


class HomeCardForm(forms.Form):
    """`rows` are ids of exercises; which of them may go home is settled by the rules."""

    rows = forms.MultipleChoiceField(required=True, error_messages={"required": "Choose at least one exercise."})
    words = forms.CharField(
        max_length=160,
        required=False,
        label="A word to take home",
        help_text="One line that is printed on the card. The card may lie about: leave health out of it.",
    )
    times = forms.IntegerField(min_value=1, max_value=7, initial=3, label="Times a week", widget=forms.NumberInput)

    def offer(self, ids: list[str]) -> None:
        """Only these exercises can be chosen."""
        field = self.fields["rows"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [(key, key) for key in ids]
