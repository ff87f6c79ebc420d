"""Clinicians' letters: handed in, put into terms, set aside."""

from typing import Any, cast

from django import forms

from clients import actions, queries
from clients.forms.health import OfTheFloorForm
from clients.rules.reference import Intensity
from clients.rules.terms import EFFORTS, Entered
from studio.doors.fields import ReasonedForm

NO_SUCH_DAY = {"invalid": "There is no such day. Which one does the letter name?"}


def _plain() -> forms.Widget:
    return forms.TextInput(attrs={"autocomplete": "off"})


def _date() -> forms.Widget:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class ManyFiles(forms.FileInput):
    allow_multiple_selected = True


class HandInForm(ReasonedForm):
    """Whom a letter is laid before; the page reads its files, each no further than the largest that is taken."""

    file = forms.CharField(label="PDF, or photographs of the pages in their order", required=False, widget=ManyFiles())
    routed_to = forms.TypedChoiceField(label="Who reads it", required=False, coerce=int, empty_value=None)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["file"].widget.attrs |= {"accept": "application/pdf,image/jpeg,image/png"}
        choices = [("", "Nobody yet: the owner sees it"), *queries.teachers()]
        cast(forms.TypedChoiceField, self.fields["routed_to"]).choices = choices


class AsideForm(OfTheFloorForm):
    named = "aside"
    because = forms.CharField(
        label="Why is it set aside?",
        max_length=300,
        help_text="Such as: no lessons at present; about somebody else; the same as the one before.",
        error_messages={"required": "Write a few words for whoever reads it next."},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class LetterForm(OfTheFloorForm):
    """What a person read in a letter. `seen` is the mark of the terms that were read back to her."""

    named = "letter"
    seen = forms.CharField(max_length=64, required=False, widget=forms.HiddenInput)
    clinician = forms.CharField(label="Signed by", max_length=120, required=False, widget=_plain())
    profession = forms.CharField(label="Profession", max_length=120, required=False, widget=_plain())
    dated = forms.DateField(label="Dated", required=False, widget=_date(), error_messages=NO_SUCH_DAY)
    until = forms.DateField(label="Holds until", required=False, widget=_date(), error_messages=NO_SUCH_DAY)
    answers = forms.MultipleChoiceField(
        label="Which questions does it answer?", required=False, widget=forms.CheckboxSelectMultiple
    )
    effort = forms.ChoiceField(
        label="How hard may the work be?",
        choices=[("", "The letter does not say"), *((one.value, words.capitalize()) for one, words in EFFORTS.items())],
        required=False,
        help_text="Light only? Choose light to moderate, and say so in the note.",
        widget=forms.RadioSelect,
    )
    allows = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    forbids = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    words = forms.CharField(
        label="Note for those who teach this client",
        max_length=1000,
        required=False,
        help_text="What the letter says besides. It is sealed with the rest.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, letter: actions.ReadLetter, **options: Any) -> None:
        super().__init__(*args, **options)
        asked = [(one.rule_id, one.says) for one in letter.asks]
        cast(forms.MultipleChoiceField, self.fields["answers"]).choices = asked
        self.fields["until"].help_text = f"Empty: {letter.usual_days} days from its date."
        names = [(one, demand.name) for one, demand in queries.rules_in_force().rulebook.demands.items()]
        for field in ("allows", "forbids"):
            cast(forms.MultipleChoiceField, self.fields[field]).choices = names

    def entered(self) -> Entered:
        data = self.cleaned_data
        given: dict[str, Any] = {name: frozenset(data[name]) for name in ("answers", "allows", "forbids")}
        given |= {name: data[name] for name in ("clinician", "profession", "dated", "until", "words")}
        return Entered(**given, effort=Intensity(data["effort"]) if data["effort"] else None)
