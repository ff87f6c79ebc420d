"""Templates: made whole, checked by the rules, kept in versions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction

from programming import models
from programming.actions.drafts import line_row
from programming.queries import files
from programming.queries import repertoire as repertoire_queries
from programming.rules import building, validation
from programming.rules.timing import Slot
from studio.actions import audit
from studio.models import Person
from studio.rules import ApparatusKind, Reason, Refused

State = models.Template.State


@dataclass(frozen=True)
class NewLine:
    """One line to plan: an exercise, and what differs from the usual of its row."""

    exercise_id: str
    springs: int | None = None
    reps: int | None = None
    note: str = ""
    adapted: bool = False
    setup: Mapping[str, str] = field(default_factory=dict, hash=False)
    extra_one_side: int = 0
    reason: str = ""


def make_template(
    *,
    name: str,
    aim: str,
    kind: ApparatusKind,
    level: int,
    minutes: int,
    lines: Sequence[NewLine],
    by: Person | None,
    now: datetime,
) -> models.Template:
    """Save an active template as the next version of its name. Raises Refused with every rule that blocks it."""
    repertoire = repertoire_queries.exercises()
    if unknown := [line.exercise_id for line in lines if line.exercise_id not in repertoire]:
        raise Refused(Reason("no_such_exercise", f"Not in the repertoire: {', '.join(unknown)}.", "lines"))
    if not lines:
        raise Refused(Reason("no_lines", "A template needs at least one exercise.", "lines"))
    draft = building.grouped([_drafted(-place, line) for place, line in enumerate(lines, 1)], repertoire)
    times = repertoire_queries.times()
    planned = building.as_lines(draft, repertoire)
    found = validation.report(planned, repertoire, times, slot=Slot(minutes * 60))
    if blocks := [one for one in found if one.severity is validation.Severity.BLOCK]:
        raise Refused([Reason(one.rule.lower(), one.says, "lines") for one in blocks])
    with transaction.atomic():
        return _write(name, aim, kind, level, minutes, draft, by, now)


def _drafted(key: int, line: NewLine) -> building.DraftLine:
    return building.DraftLine(
        key=key,
        exercise_id=line.exercise_id,
        reps=line.reps,
        springs=line.springs,
        adapted=line.adapted,
        setup=line.setup,
        extra_one_side=line.extra_one_side,
        reason=line.reason,
        note=line.note,
    )


def _write(
    name: str,
    aim: str,
    kind: ApparatusKind,
    level: int,
    minutes: int,
    lines: building.Draft,
    by: Person | None,
    now: datetime,
) -> models.Template:
    earlier = models.Template.objects.select_for_update().filter(name=name).order_by("-version").first()
    if earlier:
        models.Template.objects.filter(name=name, state=State.ACTIVE).update(state=State.RETIRED, retired_at=now)
    template = models.Template.objects.create(
        name=name,
        aim=aim,
        apparatus_kind=kind.value,
        level=level,
        minutes=minutes,
        version=earlier.version + 1 if earlier else 1,
        state=State.ACTIVE,
        made_by=by,
        made_at=now,
        decided_by=by,
        decided_at=now,
    )
    models.TemplateLine.objects.bulk_create(line_row(template, place, line) for place, line in enumerate(lines, 1))
    audit.wrote("make_template", template, by=by, now=now)
    return template


def load_templates(shipped: Sequence[files.ShippedTemplate], *, now: datetime) -> int:
    """Make the shipped templates in a studio that has none yet; the number made. Raises Refused as making one does."""
    with transaction.atomic():
        if models.Template.objects.exists():
            return 0
        for one in shipped:
            make_template(
                name=one.name,
                aim=one.aim,
                kind=ApparatusKind(one.kind),
                level=one.level,
                minutes=one.minutes,
                lines=[NewLine(line.exercise_id, line.springs, line.reps, line.note) for line in one.lines],
                by=None,
                now=now,
            )
    return len(shipped)
