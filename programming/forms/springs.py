"""Shapes of what is asked about springs: a series on a machine, a stroke that was seen, a bend to start at."""

from datetime import datetime
from typing import Any

from django import forms

from programming.queries import springs as spring_queries
from programming.queries.springs import MachineChoice
from programming.queries.work import Wanted
from programming.rules.work import LONGEST_M, SHORTEST_M
from studio.doors.fields import ReasonedForm


class TranslateForm(ReasonedForm):
    """What to put on which reformer, and from which it comes."""

    what = forms.ChoiceField(label="Series or template")
    machine = forms.TypedChoiceField(label="On", coerce=int)
    origin = forms.TypedChoiceField(label="Coming from", coerce=int, required=False, empty_value=None)

    def __init__(self, *args: Any, now: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.machines = {machine.id: machine for machine in spring_queries.reformers(now=now)}
        choices = [(machine.id, f"{machine.name} ({machine.letters or 'no springs'})") for machine in self._machines()]
        self._offer("what", spring_queries.subjects())
        self._offer("machine", choices)
        self._offer("origin", [("", "nowhere: only this machine"), *choices])

    def _machines(self) -> list[MachineChoice]:
        return list(self.machines.values())

    def _offer(self, name: str, choices: list[Any]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices


class WorkForm(forms.Form):
    """A stroke in centimetres that was seen, and a bend of the knees in degrees; either may be empty."""

    stroke = forms.FloatField(
        label="Stroke you saw, cm",
        required=False,
        min_value=100 * SHORTEST_M,
        max_value=100 * LONGEST_M,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )
    bend = forms.IntegerField(
        label="Knees to start bent by, degrees",
        required=False,
        min_value=30,
        max_value=150,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    def wanted(self, line_id: Any = None) -> Wanted:
        """Only after `is_valid`."""
        seen = self.cleaned_data["stroke"]
        return Wanted(line_id, None if seen is None else seen / 100, self.cleaned_data["bend"])
