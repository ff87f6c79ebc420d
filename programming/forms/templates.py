"""What a teacher taps and types in the builder: a deed and its line, read into one edit."""

import re
from collections.abc import Callable, Mapping
from typing import Any

from django import forms

from programming.rules.building import Deed, Edit, Move, PutRow, PutSeries, SetCounts, SetWords, Touch
from programming.rules.timing import Pace
from studio.rules import ApparatusKind

KINDS = [(kind.value, kind.value) for kind in ApparatusKind]
# Keys of lines are whole numbers of the database.
MOST_KEY = 2**62
LINE = re.compile(r"\d{1,18}")
SETUP = "setup_"


class AboutForm(forms.Form):
    """What a template is about."""

    name = forms.CharField(max_length=120, label="Name")
    aim = forms.CharField(
        max_length=200, required=False, label="What it is for", help_text="One line: who will choose it, and why."
    )
    kind = forms.ChoiceField(choices=KINDS, label="Taught on", help_text="Other apparatus may follow in it.")
    level = forms.TypedChoiceField(
        choices=[(n, n) for n in range(1, 6)], coerce=int, label="Level", help_text="The highest it asks for"
    )
    minutes = forms.IntegerField(min_value=5, max_value=180, label="Minutes of the lesson")
    revision = forms.IntegerField(min_value=0, max_value=2**31 - 1, required=False, widget=forms.HiddenInput)

    def clean_kind(self) -> ApparatusKind:
        return ApparatusKind(self.cleaned_data["kind"])

    def clean_name(self) -> str:
        return " ".join(self.cleaned_data["name"].split())


class LookForm(forms.Form):
    """How a template is looked at; whatever is no sense falls back to the usual."""

    machine = forms.IntegerField(min_value=1, max_value=2**31 - 1, required=False)
    pace = forms.ChoiceField(choices=[(pace.value, pace.value) for pace in Pace], required=False)
    open = forms.IntegerField(min_value=1, max_value=MOST_KEY, required=False)
    side = forms.ChoiceField(choices=[(one, one) for one in ("put", "rules", "about")], required=False)
    kind = forms.ChoiceField(choices=[("", "every apparatus"), ("any", "every apparatus"), *KINDS], required=False)
    q = forms.CharField(max_length=80, required=False)
    series = forms.CharField(max_length=100, required=False)


class DeedForm(forms.Form):
    """One deed, as its button says it: `up.12`, `row.R-HUN`, `series.2.reformer.Footwork`, `stand.V9.0`."""

    deed = forms.CharField(max_length=160)
    revision = forms.IntegerField(min_value=0, max_value=2**31 - 1)
    # Where it goes: the key of the line it stands before, 0 for the end, empty for its place in its series.
    before = forms.IntegerField(min_value=0, max_value=MOST_KEY, required=False)
    to = forms.IntegerField(min_value=0, max_value=MOST_KEY, required=False)
    springs = forms.IntegerField(min_value=0, max_value=9, required=False)
    reps = forms.IntegerField(min_value=1, max_value=120, required=False)
    extra = forms.IntegerField(min_value=0, max_value=3, required=False)
    reason = forms.CharField(max_length=200, required=False)
    note = forms.CharField(max_length=200, required=False)

    def clean(self) -> dict[str, Any]:
        found = super().clean() or self.cleaned_data
        if not self.errors and found["deed"] not in ("undo", "redo"):
            verb, _, rest = found["deed"].partition(".")
            reader = READERS.get(verb)
            edit = reader(self, verb, rest) if reader else None
            if edit is None:
                raise forms.ValidationError("That button is not known here. Open the page again.")
            found["edit"] = edit
        return found

    def at_line(self, verb: str, rest: str) -> Edit | None:
        return Touch(Deed(verb), int(rest)) if LINE.fullmatch(rest) else None

    def carried(self, verb: str, rest: str) -> Edit | None:
        to = self.cleaned_data["to"]
        if not LINE.fullmatch(rest) or to is None:
            return None
        return Move(int(rest), before=to, whole_block=verb == "block")

    def row(self, verb: str, rest: str) -> Edit | None:
        return PutRow(rest, before=self.cleaned_data["before"]) if rest else None

    def series(self, verb: str, rest: str) -> Edit | None:
        level, _, named = rest.partition(".")
        kind, _, series = named.partition(".")
        if kind not in set(ApparatusKind) or level not in tuple("12345") or not series:
            return None
        return PutSeries(ApparatusKind(kind), series, up_to=int(level), before=self.cleaned_data["before"])

    def counts(self, verb: str, rest: str) -> Edit | None:
        if not LINE.fullmatch(rest):
            return None
        return SetCounts(int(rest), springs=self.cleaned_data["springs"], reps=self.cleaned_data["reps"])

    def words(self, verb: str, rest: str) -> Edit | None:
        if not LINE.fullmatch(rest):
            return None
        setup = {
            name.removeprefix(SETUP): str(value).replace("\x00", "")[:40]
            for name, value in self.data.items()
            if name.startswith(SETUP)
        }
        given = self.cleaned_data
        return SetWords(int(rest), setup, given["extra"] or 0, given["reason"], given["note"])


Reader = Callable[[DeedForm, str, str], Edit | None]
READERS: Mapping[str, Reader] = {
    **{deed.value: DeedForm.at_line for deed in Deed},
    "move": DeedForm.carried,
    "block": DeedForm.carried,
    "row": DeedForm.row,
    "series": DeedForm.series,
    "counts": DeedForm.counts,
    "words": DeedForm.words,
}


class StandForm(forms.Form):
    """A warning let stand: which, at which line, and why; without a reason it warns again."""

    rule = forms.RegexField(r"\AV\d{1,2}\Z")
    key = forms.IntegerField(min_value=0, max_value=MOST_KEY)
    revision = forms.IntegerField(min_value=0, max_value=2**31 - 1)
    reason = forms.CharField(max_length=300, required=False)


class DecideForm(forms.Form):
    """What becomes of a template."""

    deed = forms.ChoiceField(
        choices=[(one, one) for one in ("propose", "take_back", "retire", "bring_back", "copy", "next")]
    )
    revision = forms.IntegerField(min_value=0, max_value=2**31 - 1, required=False)


class AnswerForm(forms.Form):
    """The owner's word on a proposed template."""

    deed = forms.ChoiceField(choices=[("approve", "approve"), ("send_back", "send back")])
    words = forms.CharField(max_length=300, required=False)
