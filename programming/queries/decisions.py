"""What teachers decided of the log's proposals, and which lessons count since."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Max

from programming import models
from programming.queries.histories import Practice
from programming.rules.marks import Mark
from programming.rules.progress import Step


@dataclass(frozen=True)
class Decided:
    """The last decision in force on an exercise: what was proposed, what was decided, by whom."""

    id: UUID
    exercise_id: str
    proposed: Step
    decided: Step
    by: str
    at: datetime

    @property
    def follows(self) -> bool:
        """Whether the teacher decided what was proposed."""
        return self.proposed is self.decided


def last_decisions(client_id: UUID) -> dict[str, Decided]:
    """By exercise; one query."""
    rows = models.StepDecision.objects.filter(client_id=client_id, taken_back_at=None).select_related("by")
    return {
        row.exercise_id: Decided(
            row.pk, row.exercise_id, Step(row.proposed), Step(row.decided), row.by.name if row.by else "", row.at
        )
        for row in rows.order_by("at")
    }


def is_open(practices: Sequence[Practice], last: Decided | None) -> bool:
    """Whether something was practised since the last decision."""
    practised = [one for one in practices if one.entry.is_practised]
    return bool(practised) and (last is None or max(one.known_at for one in practised) > last.at)


def counted(practices: Sequence[Practice], last: Decided | None) -> list[Practice]:
    """The lessons a new proposal rests on; none when nothing was practised since the last decision.

    After an advance or a step back another form is practised, so what was before says nothing of it.
    """
    if not is_open(practices, last):
        return []
    if last is None or not last.decided.changes_the_form:
        return list(practices)
    return [one for one in practices if one.known_at > last.at]


def standing_decisions(client_id: UUID) -> dict[str, Decided]:
    """The decisions on exercises that were not practised since, by exercise; two queries, the second where any are."""
    last = last_decisions(client_id)
    if not last:
        return {}
    rows = models.LogLine.objects.filter(
        log__program__client_id=client_id, log__finished_at__isnull=False, program_line__exercise_id__in=set(last)
    ).exclude(mark=Mark.SKIPPED)
    practised = dict(rows.values_list("program_line__exercise_id").annotate(Max("log__finished_at")))
    return {key: one for key, one in last.items() if key not in practised or practised[key] <= one.at}
