"""Templates to choose from for a lesson."""

from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count

from clients import queries as client_queries
from programming import models
from programming.rules.validation import UNSIGNED_LEVEL
from studio.rules import ApparatusKind

SHOWN = 24


@dataclass(frozen=True)
class TemplateChoice:
    """A template in use. `fits_here` means planned for this kind of apparatus and within the client's level."""

    id: UUID
    name: str
    aim: str
    kind: ApparatusKind
    level: int
    minutes: int
    lines: int
    fits_here: bool
    above_level: bool


def choices(client_id: UUID, kind: ApparatusKind, *, text: str = "") -> list[TemplateChoice]:
    """Templates in use with every word of `text`: those that fit here first, then by level and name. Two queries."""
    levels = client_queries.ceilings([client_id])[client_id]
    rows = models.Template.objects.filter(state=models.Template.State.ACTIVE)
    for word in text[:80].replace("\x00", "").split()[:6]:
        rows = rows.filter(name__icontains=word) | rows.filter(aim__icontains=word)
    found = [_choice(row, kind, levels) for row in rows.annotate(count=Count("lines"))]
    found.sort(key=lambda one: (not one.fits_here, one.kind is not kind, one.above_level, one.level, one.name))
    return found[:SHOWN]


def _choice(row: models.Template, kind: ApparatusKind, levels: dict[str, int]) -> TemplateChoice:
    above = row.level > levels.get(row.apparatus_kind, UNSIGNED_LEVEL)
    return TemplateChoice(
        id=row.pk,
        name=row.name,
        aim=row.aim,
        kind=ApparatusKind(row.apparatus_kind),
        level=row.level,
        minutes=row.minutes,
        lines=row.count,  # type: ignore[attr-defined]
        fits_here=row.apparatus_kind == kind.value and not above,
        above_level=above,
    )
