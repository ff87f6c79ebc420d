"""The list of templates, and two versions of one beside each other."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Count

from programming import models
from programming.queries import drafts
from programming.queries import repertoire as repertoire_queries
from programming.rules import building
from programming.rules.building.versions import Compared, Difference, compared
from programming.rules.lines import Line
from studio.rules import ApparatusKind

State = models.Template.State
# What waits for somebody stands first.
ORDER = {State.PROPOSED: 0, State.DRAFT: 1, State.ACTIVE: 2, State.RETIRED: 3}


@dataclass(frozen=True)
class TemplateRow:
    """One template of the list; `programs` were made from it."""

    id: UUID
    name: str
    aim: str
    kind: ApparatusKind
    level: int
    minutes: int
    version: int
    state: str
    lines: int
    programs: int
    made_by: str
    made_at: datetime
    answer: str


@dataclass(frozen=True)
class Comparison:
    before: TemplateRow
    after: TemplateRow
    rows: tuple[Compared, ...]
    others: tuple[TemplateRow, ...]

    @property
    def changed(self) -> int:
        return sum(row.what is not Difference.SAME for row in self.rows)


def templates(*, state: str = "", text: str = "") -> list[TemplateRow]:
    """Templates in one state, or all that are not retired, with every word of `text`; one query."""
    rows = models.Template.objects.select_related("made_by")
    rows = rows.filter(state=state) if state else rows.exclude(state=State.RETIRED)
    for word in text[:80].replace("\x00", "").split()[:6]:
        rows = rows.filter(name__icontains=word) | rows.filter(aim__icontains=word)
    counted = rows.annotate(line_count=Count("lines", distinct=True), program_count=Count("programs", distinct=True))
    return sorted((_row(row) for row in counted), key=lambda one: (ORDER[State(one.state)], one.name, -one.version))


def state_counts() -> dict[str, int]:
    """How many templates are in each state; one query."""
    found = dict.fromkeys((state.value for state in State), 0)
    return found | {
        row["state"]: row["count"] for row in models.Template.objects.values("state").annotate(count=Count("pk"))
    }


def versions_of(name: str) -> list[TemplateRow]:
    """Every version of a name, the newest first; one query."""
    rows = models.Template.objects.filter(name=name).select_related("made_by")
    counted = rows.annotate(line_count=Count("lines", distinct=True), program_count=Count("programs", distinct=True))
    return [_row(row) for row in counted.order_by("-version")]


def comparison(template_id: UUID, other_id: UUID | None) -> Comparison | None:
    """A template beside another: the one named, else the version before it, else what it was copied from.

    None when there is nothing to compare with. Raises Template.DoesNotExist for the template itself.
    """
    template = _counted(template_id)
    others = [one for one in versions_of(template.name) if one.id != template_id]
    source = models.Template.objects.filter(pk=template_id).values_list("copied_from", flat=True).get()
    earlier = [one.id for one in others if one.version < template.version]
    chosen = other_id or (earlier[0] if earlier else source)
    if chosen is None or not models.Template.objects.filter(pk=chosen).exists():
        return None
    before, after = sorted((_counted(chosen), template), key=lambda one: (one.version, one.made_at))
    rows = compared(*_lines_of([before.id, after.id]))
    return Comparison(before, after, rows, tuple(others))


def _lines_of(ids: Sequence[UUID]) -> list[tuple[Line, ...]]:
    states = [drafts.state_of(models.Template.objects.get(pk=one)) for one in ids]
    known = repertoire_queries.known_exercises([line.exercise_id for state in states for line in state.lines])
    return [building.as_lines(state.lines, known) for state in states]


def _counted(template_id: UUID) -> TemplateRow:
    rows = models.Template.objects.select_related("made_by")
    counted = rows.annotate(line_count=Count("lines", distinct=True), program_count=Count("programs", distinct=True))
    return _row(counted.get(pk=template_id))


def _row(row: models.Template) -> TemplateRow:
    return TemplateRow(
        id=row.pk,
        name=row.name,
        aim=row.aim,
        kind=ApparatusKind(row.apparatus_kind),
        level=row.level,
        minutes=row.minutes,
        version=row.version,
        state=row.state,
        lines=row.line_count,  # type: ignore[attr-defined]
        programs=row.program_count,  # type: ignore[attr-defined]
        made_by=row.made_by.name if row.made_by else "",
        made_at=row.made_at,
        answer=row.answer,
    )
