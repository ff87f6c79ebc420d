"""Versions of rows and steps, and the changes that are asked for, as people compare them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from programming import models
from programming.queries import repertoire
from programming.rules import columns, entries
from programming.rules.entries import About
from programming.rules.reference.faults import Row, split

SHOWN = 40


@dataclass(frozen=True)
class Difference:
    """One column in the words of the screen. `then` is what it was when the change was asked for, if other than now."""

    label: str
    before: str
    after: str
    then: str | None = None


@dataclass(frozen=True)
class ProposalRow:
    """A proposal in a list."""

    id: UUID
    about: str
    key: str
    name: str
    what: str
    why: str
    proposed_by: str
    proposed_by_id: int
    proposed_at: datetime
    decision: str
    decision_words: str
    answer: str
    decided_by: str
    decided_at: datetime | None

    @property
    def is_open(self) -> bool:
        return not self.decision


@dataclass(frozen=True)
class ProposalView:
    """A proposal with what it would change: now against proposed. `seen_version` is the version compared with."""

    row: ProposalRow
    differences: tuple[Difference, ...]
    seen_version: int
    exercise_ids: tuple[tuple[str, str], ...]
    is_new: bool
    retires: bool

    @property
    def is_out_of_date(self) -> bool:
        return any(one.then is not None for one in self.differences)


@dataclass(frozen=True)
class Version:
    """A version and what it changed of the one before."""

    version: int
    why: str
    made_by: str
    made_at: datetime
    differences: tuple[Difference, ...]
    is_now: bool


@dataclass(frozen=True)
class TemplateWaiting:
    """A template that was proposed for use."""

    id: UUID
    name: str
    made_by: str


@dataclass(frozen=True)
class Entry:
    """A row or step to be changed: its columns now, and what it is called."""

    about: About
    key: str
    name: str
    version: int
    columns: Mapping[str, str]
    is_retired: bool
    kind: str


def entry(about: About, key: str) -> Entry:
    """Raises DoesNotExist."""
    if about is About.EXERCISE:
        row = models.Exercise.objects.get(pk=key)
        return Entry(about, key, str(row), row.version, row.row, row.retired_at is not None, row.apparatus_kind)
    step = models.LadderStep.objects.get(pk=key)
    kind = columns.KINDS[step.kind]
    return Entry(about, key, f"{kind}: {step.row['change']}", step.version, step.row, step.retired_at is not None, kind)


def columns_at(about: About, key: str, version: str) -> Mapping[str, str]:
    """The columns of a version by its number, or of the reference for "reference"; empty for one that is not there."""
    if version == "reference":
        kept = models.Exercise if about is About.EXERCISE else models.LadderStep
        return kept.objects.values_list("reference_row", flat=True).filter(pk=key).first() or {}
    if not (version.isascii() and version.isdigit() and len(version) < 5):
        return {}
    return _versions(about, key).filter(version=int(version)).values_list("row", flat=True).first() or {}


def columns_like(key: str) -> dict[str, str]:
    """What a new exercise takes over from one that is there: all but its name and its place; empty for none."""
    row = models.Exercise.objects.filter(pk=key).values_list("row", flat=True).first()
    own = ("id", "exercise", "part", "order_in_apparatus", "position_in_series")
    return {name: value for name, value in row.items() if name not in own} if row else {}


def targets(step: Row) -> list[tuple[str, str]]:
    """(id, name) of the exercises a step belongs to, in their order; one query."""
    rows = models.Exercise.objects.filter(pk__in=split(step["repertoire_ids"]))
    return [(row.pk, str(row)) for row in rows.order_by("apparatus_kind", "order_in_apparatus")]


def ladder_names() -> list[str]:
    return sorted(row["ladder"] for row in repertoire.table("ladder_gates"))


def ladder_of(exercise_id: str) -> str:
    """The ladder that an exercise stands on; empty when it has none."""
    steps = models.LadderStep.objects.filter(exercises=exercise_id, retired_at=None)
    return steps.order_by("position").values_list("ladder", flat=True).first() or ""


def versions(about: About, key: str) -> list[Version]:
    """Every version, newest first, each with what it changed; four queries."""
    rows = list(_versions(about, key).select_related("made_by").order_by("version"))
    names = repertoire.names()
    found: list[Version] = []
    before: Row = {}
    for row in rows:
        changed = _told(about, entries.differences(about, before, row.row), names) if before else ()
        who = row.made_by.name if row.made_by else "the reference"
        found.append(Version(row.version, row.why, who, row.made_at, changed, row is rows[-1]))
        before = row.row
    return found[::-1]


def _versions(about: About, key: str) -> QuerySet[Any]:
    if about is About.EXERCISE:
        return models.ExerciseVersion.objects.filter(exercise_id=key)
    return models.LadderStepVersion.objects.filter(step_id=key)


def proposals(*, open_only: bool = False, key: str = "") -> list[ProposalRow]:
    """Proposals, open ones first, then those decided last; two queries."""
    rows = models.RepertoireProposal.objects.select_related("proposed_by", "decided_by")
    if open_only:
        rows = rows.filter(decision="")
    if key:
        rows = rows.filter(key=key)
    names = _entry_names()
    found = [_row(row, names) for row in rows.order_by("-proposed_at")[:SHOWN]]
    return sorted(found, key=lambda one: not one.is_open)


def open_count() -> int:
    return models.RepertoireProposal.objects.filter(decision="").count()


def templates_waiting() -> list[TemplateWaiting]:
    """Templates that wait for the owner's word, the longest waiting first; one query."""
    rows = models.Template.objects.filter(state=models.Template.State.PROPOSED).select_related("made_by")
    return [
        TemplateWaiting(row.pk, f"{row.name}, version {row.version}", row.made_by.name if row.made_by else "")
        for row in rows.order_by("made_at")
    ]


def proposal(proposal_id: UUID) -> ProposalView:
    """One proposal with its differences to the row as it is now. Raises DoesNotExist."""
    row = models.RepertoireProposal.objects.select_related("proposed_by", "decided_by").get(pk=proposal_id)
    about, names = About(row.about), repertoire.names()
    now = _now(about, row.key)
    is_new = not row.base_version
    before: Row = _before_decision(about, row) if row.decision == "taken_over" else (now.columns if now else {})
    then: Row = {} if is_new else columns_at(about, row.key, str(row.base_version))
    shown = entries.differences(about, {} if is_new else before, {**({} if is_new else before), **row.columns})
    return ProposalView(
        row=_row(row, _entry_names()),
        differences=_told(about, shown, names, then=None if is_new else then),
        seen_version=now.version if now else 0,
        exercise_ids=_exercises(about, row, now, names),
        is_new=is_new,
        retires=row.retires,
    )


def _before_decision(about: About, row: models.RepertoireProposal) -> Row:
    """What stood before it was taken over; nothing for a new one."""
    if row.made_version is None or row.retires:
        return {}
    return columns_at(about, row.key, str(row.made_version - 1))


def _now(about: About, key: str) -> Entry | None:
    return entry(about, key) if key else None


def _exercises(
    about: About, row: models.RepertoireProposal, now: Entry | None, names: Mapping[str, str]
) -> tuple[tuple[str, str], ...]:
    """(id, name) of the exercises it is about."""
    if about is About.EXERCISE:
        return ((row.key, names.get(row.key, row.key)),) if row.key else ()
    ids = row.columns.get("repertoire_ids") or (now.columns["repertoire_ids"] if now else "")
    return tuple((key, names.get(key, key)) for key in split(ids))


def _entry_names() -> dict[tuple[str, str], str]:
    rows = {("exercise", row.pk): str(row) for row in models.Exercise.objects.only("id", "name", "part")}
    steps = models.LadderStep.objects.values_list("code", "kind", "row__change")
    return rows | {("step", code): f"{columns.KINDS[kind]}: {change}" for code, kind, change in steps}


def _row(row: models.RepertoireProposal, names: Mapping[tuple[str, str], str]) -> ProposalRow:
    return ProposalRow(
        id=row.pk,
        about=row.about,
        key=row.key,
        name=names.get((row.about, row.key)) or _new_name(row),
        what=_what(row),
        why=row.why,
        proposed_by=row.proposed_by.name,
        proposed_by_id=row.proposed_by_id,
        proposed_at=row.proposed_at,
        decision=row.decision,
        decision_words=row.get_decision_display() if row.decision else "open",
        answer=row.answer,
        decided_by=row.decided_by.name if row.decided_by else "",
        decided_at=row.decided_at,
    )


def _what(row: models.RepertoireProposal) -> str:
    noun = "exercise" if row.about == About.EXERCISE else "step of a ladder"
    if row.retires:
        return f"take the {noun} out of use"
    if not row.base_version:
        return f"new {noun}"
    labels = About(row.about).labels
    return "change: " + ", ".join(labels[name].lower() for name in labels if name in row.columns)


def _new_name(row: models.RepertoireProposal) -> str:
    told = row.columns
    if row.about == About.EXERCISE:
        name, part = told.get("exercise", ""), told.get("part", "")
        return f"{name}: {part}" if part else name
    return f"{columns.KINDS.get(told.get('kind', ''), '')}: {told.get('change', '')}"


def _told(
    about: About,
    found: tuple[entries.Difference, ...],
    names: Mapping[str, str],
    *,
    then: Row | None = None,
) -> tuple[Difference, ...]:
    return tuple(
        Difference(
            label=about.labels[one.column],
            before=shown(one.column, one.before, names),
            after=shown(one.column, one.after, names),
            then=_then(one, then, names),
        )
        for one in found
    )


def _then(one: entries.Difference, then: Row | None, names: Mapping[str, str]) -> str | None:
    """What the column was when the change was asked for, when somebody changed it since."""
    if then is None or then.get(one.column, "") == one.before:
        return None
    return shown(one.column, then.get(one.column, ""), names)


WORDS: Mapping[str, Mapping[str, str]] = {
    "kind": columns.KINDS,
    "reps_basis": columns.BASES,
    "spring_effect": columns.EFFECTS,
    "supervision": columns.SUPERVISION,
    "rep_pool_role": columns.ROLES,
}
LISTS = frozenset({"demands", "demands_removable", "regression_adds", "removes", "adds", "repertoire_ids",
                   "substitutes_row", "purpose", "stretch_joint"})  # fmt: skip


def shown(column: str, value: str, names: Mapping[str, str]) -> str:
    """A column's value as people read it; empty stays empty."""
    if column == "prerequisite_ids":
        groups = (" or ".join(names.get(key, key) for key in group.split("|")) for group in split(value))
        return "; ".join(groups)
    if column in LISTS:
        return ", ".join(names.get(key, key.replace("_", " ")) for key in split(value))
    return WORDS.get(column, {}).get(value, value)
