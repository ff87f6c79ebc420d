"""What differs between two versions of a form, in the words of each."""

from collections.abc import Sequence
from dataclasses import dataclass

from clients.rules.form.walking import Told

NOT_ASKED = "not asked"


@dataclass(frozen=True)
class Difference:
    """One answer in words before and after; one of the two may be that it was not asked or not said."""

    title: str
    question: str
    before: str
    after: str


def differences(before: Sequence[Told], after: Sequence[Told]) -> tuple[Difference, ...]:
    """Every answer that differs, in the order of the later form; what only the earlier one has comes last."""
    then = {one.field_id: one for one in before}
    now = {one.field_id: one for one in after}
    changed = [
        Difference(one.title, one.question, then[key].words if key in then else NOT_ASKED, one.words)
        for key, one in now.items()
        if key not in then or then[key].words != one.words
    ]
    gone = [Difference(one.title, one.question, one.words, NOT_ASKED) for key, one in then.items() if key not in now]
    return (*changed, *gone)
