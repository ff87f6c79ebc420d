"""Shapes of what people type of shared items."""

from typing import Any

from django import forms

from scheduling import queries
from scheduling.forms import named, offer
from scheduling.queries.items import Quarters
from scheduling.rules.items import ItemKind
from studio.doors.fields import ReasonedForm
from studio.rules import Span


class ItemForm(ReasonedForm):
    """Something more to share."""

    label = forms.CharField(label="Label", max_length=60, help_text="As it is written on it: Box 1.")
    kind = forms.ChoiceField(label="What it is", choices=[(kind.value, kind.words) for kind in ItemKind])
    studio = forms.TypedChoiceField(label="Studio", coerce=int)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        offer(self, "studio", named(queries.studio_choices()))


class HoldForm(ReasonedForm):
    """One item for some quarter hours of a lesson; `starts` and `ends` count its quarters."""

    item = forms.TypedChoiceField(label="What", coerce=int)
    starts = forms.TypedChoiceField(label="From", coerce=int)
    ends = forms.TypedChoiceField(label="To", coerce=int)

    def __init__(self, *args: Any, quarters: Quarters, **options: Any) -> None:
        super().__init__(*args, **options)
        self._spans = quarters.spans
        offer(self, "item", quarters.items)
        offer(self, "starts", enumerate(quarters.starts))
        offer(self, "ends", enumerate(quarters.ends))
        self.initial.setdefault("ends", len(quarters.ends) - 1)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "starts" in data and "ends" in data and data["ends"] < data["starts"]:
            self.add_error("ends", "The end is not after the beginning.")
        return data

    def span(self) -> Span:
        """Only after `is_valid`."""
        return Span(self._spans[self.cleaned_data["starts"]].start, self._spans[self.cleaned_data["ends"]].end)
