"""A template as its builder keeps it: what it is about, its lines, and the warnings somebody let stand."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Q

from programming import models
from programming.queries import repertoire as repertoire_queries
from programming.rules.building import Draft, DraftLine, grouped
from studio.rules import ApparatusKind


@dataclass(frozen=True)
class About:
    name: str
    aim: str
    kind: ApparatusKind
    level: int
    minutes: int


@dataclass(frozen=True)
class Stand:
    """A warning that stands, with the reason for it; `key` is its line, 0 for the whole template."""

    rule: str
    key: int
    reason: str
    by_id: int | None
    at: datetime


@dataclass(frozen=True)
class State:
    """Everything of a draft that a change can touch, so that each change has one way back."""

    about: About
    lines: Draft
    stands: tuple[Stand, ...]


@dataclass(frozen=True)
class Change:
    """One change of a draft in words; `undone_by` is the name of whoever took it back."""

    id: int
    revision: int
    says: str
    by: str
    at: datetime
    undone_by: str

    @property
    def told(self) -> str:
        return f"{self.undone_by} took back: {self.says}" if self.undone_by else f"{self.by}: {self.says}"


def about_of(template: models.Template) -> About:
    kind = ApparatusKind(template.apparatus_kind)
    return About(template.name, template.aim, kind, template.level, template.minutes)


def state_of(template: models.Template) -> State:
    """The template as it stands; three queries. Lines that never had blocks get them from their series."""
    rows = list(template.lines.order_by("position"))
    known = repertoire_queries.known_exercises([row.exercise_id for row in rows])
    key_at = {row.position: row.pk for row in rows}
    stands = template.overrides.order_by("pk")
    return State(
        about=about_of(template),
        lines=grouped([_line(row) for row in rows], known),
        stands=tuple(
            Stand(one.rule, key_at.get(one.position or 0, 0), one.reason, one.by_id, one.at)
            for one in stands
            if one.position is None or one.position in key_at
        ),
    )


def _line(row: models.TemplateLine) -> DraftLine:
    return DraftLine(
        key=row.pk,
        exercise_id=row.exercise_id,
        block=row.block,
        reps=row.reps,
        springs=row.springs,
        adapted=row.adapted,
        setup=row.setup,
        extra_one_side=row.extra_one_side,
        reason=row.reason,
        note=row.note,
    )


def written(state: State) -> dict[str, Any]:
    """The state as plain values; what is at its default is left out."""
    empty = DraftLine(0, "")
    lines = [
        {one.name: value for one in fields(line) if (value := getattr(line, one.name)) != getattr(empty, one.name)}
        for line in state.lines
    ]
    stands = [{**asdict(one), "at": one.at.isoformat()} for one in state.stands]
    return {"about": asdict(state.about), "lines": lines, "stands": stands}


def read(values: Mapping[str, Any]) -> State:
    """The state that was written."""
    about = {**values["about"], "kind": ApparatusKind(values["about"]["kind"])}
    return State(
        about=About(**about),
        lines=tuple(replace(DraftLine(0, ""), **line) for line in values["lines"]),
        stands=tuple(Stand(**{**one, "at": datetime.fromisoformat(one["at"])}) for one in values["stands"]),
    )


def changes_since(template_id: UUID, revision: int) -> list[Change]:
    """What was done to a draft after this revision, oldest first; one query."""
    rows = models.TemplateChange.objects.filter(template=template_id, revision__gt=revision)
    return [_change(row) for row in rows.select_related("by", "undone_by").order_by("revision")]


def newest_changes(template_id: UUID, count: int = 12) -> list[Change]:
    rows = models.TemplateChange.objects.filter(template=template_id)
    return [_change(row) for row in rows.select_related("by", "undone_by").order_by("-revision")[:count]]


def ways_back(template_id: UUID) -> tuple[Change | None, Change | None]:
    """The change that undo would take back, and the one that would be done again; two queries."""
    rows = models.TemplateChange.objects.filter(template=template_id).select_related("by", "undone_by")
    last = rows.filter(undone_by=None).order_by("-pk").first()
    later = rows.filter(~Q(undone_by=None)).order_by("pk").first()
    return (_change(last) if last else None), (_change(later) if later else None)


def _change(row: models.TemplateChange) -> Change:
    return Change(
        id=row.pk,
        revision=row.revision,
        says=row.says,
        by=row.by.name if row.by else "The studio",
        at=row.at,
        undone_by=row.undone_by.name if row.undone_by else "",
    )
