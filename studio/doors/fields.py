"""Form pieces of all apps: a form that shows an action's reasons beside its fields, and a field of open stretches."""

import re
from collections.abc import Callable
from datetime import time
from typing import Any

from django import forms
from django.http import HttpRequest, QueryDict

from studio.rules import Reason, Refused

STRETCH = re.compile(r"(\d{1,2})(?:[:.](\d{2}))?\s*[-–—]\s*(\d{1,2})(?:[:.](\d{2}))?")
Stretches = list[tuple[time, time]]


def posted(request: HttpRequest) -> QueryDict | None:
    """What a form is bound to: the posted fields, none of them included, or None when nothing was posted."""
    return request.POST if request.method == "POST" else None


class ReasonedForm(forms.Form):
    """A form whose fields can carry the reasons of a refused action."""

    def add_reasons(self, reasons: tuple[Reason, ...]) -> None:
        """Each reason goes beside the field it names; one that names none of ours goes above the form."""
        for reason in reasons:
            self.add_error(reason.field if reason.field in self.fields else None, reason.says)

    def carried_out(self, deed: Callable[[dict[str, Any]], object]) -> bool:
        """Run `deed` with the cleaned data when all is valid; a refusal becomes messages and the answer False."""
        if not self.is_valid():
            return False
        try:
            deed(self.cleaned_data)
        except Refused as refused:
            self.add_reasons(refused.reasons)
            return False
        return True


class StretchesField(forms.CharField):
    """Stretches of a day in one line: `7:00-12:00, 14:00-21:00`. Cleans to [(opens, closes)].

    An empty line is an answer too: none. So the field counts as required and accepts it.
    """

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=120, **options)

    def to_python(self, value: Any) -> Any:
        return [self._stretch(part.strip()) for part in str(value or "").split(",") if part.strip()]

    def validate(self, value: Any) -> None:
        return None

    def run_validators(self, value: Any) -> None:
        return None

    def prepare_value(self, value: Any) -> Any:
        return stretches_line(value) if isinstance(value, list) else value

    def _stretch(self, text: str) -> tuple[time, time]:
        found = STRETCH.fullmatch(text[:40])
        if not found:
            raise forms.ValidationError(f"“{text[:40]}” is not a stretch of time: write 7:00-21:00.")
        return self._wall(found[1], found[2]), self._wall(found[3], found[4])

    def _wall(self, hour: str, minute: str | None) -> time:
        if int(hour) > 23 or int(minute or 0) > 59:
            raise forms.ValidationError(f"{hour}:{minute or '00'} is not a time of day.")
        return time(int(hour), int(minute or 0))


def stretches_line(stretches: Stretches) -> str:
    return ", ".join(f"{opens:%H:%M}-{closes:%H:%M}" for opens, closes in stretches)
