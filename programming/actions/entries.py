"""Changing the studio's own repertoire at once, as its owner may: rows and steps, checked as the whole table is."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from programming import models
from programming.actions.rows import write_row, write_step
from programming.queries import repertoire as repertoire_queries
from programming.rules import entries as rules
from programming.rules.entries import About
from programming.rules.reference.faults import Row, Tables, split
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused, Role

Kept = models.Exercise | models.LadderStep


@dataclass(frozen=True)
class Locked:
    """Every row and step, locked: what the checks read cannot be changed by somebody else meanwhile."""

    exercises: Mapping[str, models.Exercise]
    steps: Mapping[str, models.LadderStep]

    def of(self, about: About) -> Mapping[str, Kept]:
        return self.exercises if about is About.EXERCISE else self.steps

    def rows(self, about: About) -> dict[str, Row]:
        """Those in use, by key."""
        return {key: kept.row for key, kept in self.of(about).items() if kept.retired_at is None}

    def tables(self, about: About | None = None, key: str = "", row: Row | None = None) -> Tables:
        """The tables as the checks read them, with one row put in its place, or out of use when it is None."""
        found = {one: self.rows(one) for one in About}
        if about and row is None:
            found[about].pop(key, None)
        elif about and row is not None:
            found[about][key] = row
        return rules.in_use(found[About.EXERCISE].values(), found[About.STEP].values())


def lock_all() -> Locked:
    """Inside a transaction. Rows that only point at an exercise may be written meanwhile."""
    exercises = models.Exercise.objects.select_for_update(of=("self",), no_key=True).order_by("pk")
    steps = models.LadderStep.objects.select_for_update(of=("self",), no_key=True).order_by("position", "code")
    return Locked({row.pk: row for row in exercises}, {step.pk: step for step in steps})


def change_entry(
    about: About,
    key: str,
    *,
    wanted: Mapping[str, str],
    by: Person,
    now: datetime,
    seen_version: int | None = None,
    why: str = "",
) -> int:
    """Change columns of a row or step; the number of the version it has then. Programs fitted before stay as they are.

    Raises Refused for anybody but an owner, when somebody changed it since `seen_version`, and with every fault the
    changed table would have; DoesNotExist; TypeError for a column that is not the studio's.
    """
    owners_only(by)
    with transaction.atomic():
        locked = lock_all()
        kept = locked.of(about)[key] if key in locked.of(about) else missing(about, key)
        refuse_changed_meanwhile(about, kept, seen_version, wanted)
        changes = rules.changed(about, kept.row, wanted)
        if not changes:
            return kept.version
        row = refuse_broken(locked, about, key, changes)
        before = kept.row
        version = write(kept, row, by=by, why=why, now=now)
        detail = {"changed": {name: [before.get(name, ""), row[name]] for name in changes}}
        audit.wrote(f"change_{about}", kept, by=by, now=now, why=why, detail=detail)
    return version


def add_entry(about: About, *, wanted: Mapping[str, str], by: Person, now: datetime, why: str = "") -> str:
    """A new row or step of the studio's own; its key. Raises Refused as `change_entry` does."""
    owners_only(by)
    with transaction.atomic():
        locked = lock_all()
        row = new_row(locked, about, wanted)
        kept = put_in(locked, about, row, by=by, why=why, now=now)
        audit.wrote(f"add_{about}", kept, by=by, now=now, why=why)
    return str(kept.pk)


def retire_entry(about: About, key: str, *, by: Person, now: datetime, why: str = "") -> None:
    """Take a row or step out of use; programs that have it keep it. Again without effect.

    Raises Refused for anybody but an owner, and while templates plan it or other rows lean on it.
    """
    owners_only(by)
    with transaction.atomic():
        locked = lock_all()
        kept = locked.of(about)[key] if key in locked.of(about) else missing(about, key)
        if kept.retired_at is None:
            refuse_leaning(locked, about, key)
            take_out(kept, by=by, now=now)
            audit.wrote(f"retire_{about}", kept, by=by, now=now, why=why)


def bring_back(about: About, key: str, *, by: Person, now: datetime) -> None:
    """Put a retired row or step back into use. Raises Refused as `change_entry` does."""
    owners_only(by)
    with transaction.atomic():
        locked = lock_all()
        kept = locked.of(about)[key] if key in locked.of(about) else missing(about, key)
        if kept.retired_at is not None:
            refuse_broken(locked, about, key, {})
            put_back(kept)
            audit.wrote(f"bring_back_{about}", kept, by=by, now=now)


def owners_only(by: Person) -> None:
    """Raises Refused for anybody but an owner."""
    if not by.has_role(Role.OWNER):
        raise Refused(Reason("owners_only", "Only an owner changes the repertoire.", allowed="propose the change"))


def missing(about: About, key: str) -> Kept:
    raise (models.Exercise if about is About.EXERCISE else models.LadderStep).DoesNotExist(key)


def refuse_changed_meanwhile(about: About, kept: Kept, seen_version: int | None, wanted: Mapping[str, str]) -> None:
    """Raises Refused, naming who changed which columns since the version that was on the screen."""
    if seen_version is None or seen_version == kept.version:
        return
    then = kept.versions.filter(version=seen_version).values_list("row", flat=True).first() or {}
    told = [about.labels[one.column] for one in rules.differences(about, then, kept.row)]
    last = kept.versions.select_related("made_by").get(version=kept.version)
    who = last.made_by.name if last.made_by else "a reload of the reference"
    says = f"Meanwhile it was changed by {who}: {', '.join(told) or 'nothing that is left'}. Yours is kept in the form."
    raise Refused(Reason("changed_meanwhile", says, allowed="look at both, then send it again"))


def refuse_broken(locked: Locked, about: About, key: str, changes: Mapping[str, str]) -> dict[str, str]:
    """The row with its changes. Raises Refused with every fault that the whole table would have then."""
    row = rules.with_changes(about, locked.of(about)[key].row, changes)
    _refuse_faults(locked, about, key, row, changes)
    return row


def new_row(locked: Locked, about: About, wanted: Mapping[str, str]) -> dict[str, str]:
    """The whole row of a new entry, under a key of its own. Raises Refused as `refuse_broken` does."""
    changes = rules.changed(about, {}, wanted)
    steps = [step.row for step in locked.steps.values()]
    key = rules.next_key(about, changes, steps, set(locked.of(about)))
    row = rules.with_changes(about, rules.blank(about, key), changes)
    if about is About.EXERCISE:
        row = rules.placed(row, locked.rows(about).values())
    _refuse_faults(locked, about, key, row, changes)
    return row


def _refuse_faults(locked: Locked, about: About, key: str, row: Row, changes: Mapping[str, str]) -> None:
    said = rules.length_reasons(changes)
    rows = locked.rows(About.EXERCISE)
    if about is About.EXERCISE:
        said += rules.setup_reasons(row, rows.values())
    elif unknown := [one for one in split(row["repertoire_ids"]) if one not in rows]:
        says = f"Not in the repertoire: {', '.join(unknown)}."
        said.append(Reason("no_such_exercise", says, "repertoire_ids"))
    if found := said + _broken(locked, about, key, row):
        raise Refused(found)


def refuse_leaning(locked: Locked, about: About, key: str) -> None:
    """Raises Refused while a template plans it, or another row or a ladder needs it."""
    planned = repertoire_queries.planned_in([key]) if about is About.EXERCISE else []
    said = [
        Reason("row_is_planned", f"The template {name} plans it.", allowed="take it out there first")
        for _, name in planned
    ]
    if found := said + _broken(locked, about, key, None):
        raise Refused(found)


def _broken(locked: Locked, about: About, key: str, row: Row | None) -> list[Reason]:
    others = repertoire_queries.other_tables()
    before, after = locked.tables(), locked.tables(about, key, row)
    names = repertoire_queries.names() | ({key: _name(row)} if row and about is About.EXERCISE else {})
    return rules.reasons(rules.breaks({**before, **others}, {**after, **others}), about, key, names)


def _name(row: Row) -> str:
    return f"{row['exercise']}: {row['part']}" if row["part"] else row["exercise"]


def write(kept: Kept, row: Row, *, by: Person, why: str, now: datetime) -> int:
    """Save the row as the next version, in the name of who changed it."""
    kept.edited_by, kept.edited_at = by, now
    if isinstance(kept, models.Exercise):
        return write_row(kept, row, by=by, why=why, now=now)
    return write_step(kept, row, by=by, why=why, now=now)


def put_in(locked: Locked, about: About, row: Row, *, by: Person, why: str, now: datetime) -> Kept:
    """Save a new row or step; a step stands behind the others of its ladder."""
    kept: Kept
    if about is About.EXERCISE:
        kept = models.Exercise(id=row["id"])
    else:
        same = [step.position for step in locked.steps.values() if step.ladder == row["ladder"]]
        kept = models.LadderStep(code=row["code"], position=max(same, default=0))
    write(kept, row, by=by, why=why, now=now)
    return kept


def take_out(kept: Kept, *, by: Person, now: datetime) -> None:
    kept.retired_by, kept.retired_at = by, now
    kept.save(update_fields=["retired_by", "retired_at"])


def put_back(kept: Kept) -> None:
    kept.retired_by, kept.retired_at = None, None
    kept.save(update_fields=["retired_by", "retired_at"])
