"""Drafts of templates: one change at a time, checked against the version it was made from, each with its way back."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import F

from programming import models
from programming.queries import drafts
from programming.queries import repertoire as repertoire_queries
from programming.queries.drafts import About, Stand, State
from programming.rules import building
from programming.rules.repertoire import ExerciseRow
from studio.actions import audit
from studio.models import Person
from studio.rules import ApparatusKind, Reason, Refused

# Positions are unique and small; lines wait up here while they change places.
PARKED = 10_000
KEPT_CHANGES = 100
REASON_LEAST = 3


@dataclass(frozen=True)
class Edited:
    """A draft after a change: what was done, what followed from it, and the lines to look at."""

    says: str
    follows: tuple[str, ...]
    revision: int
    keys: tuple[int, ...] = ()


def new_template(
    *, name: str, aim: str, kind: ApparatusKind, level: int, minutes: int, by: Person, now: datetime
) -> models.Template:
    """An empty draft. Raises Refused for a name that is taken."""
    with transaction.atomic():
        refuse_taken_name(name)
        draft = models.Template.objects.create(
            name=name, aim=aim, apparatus_kind=kind.value, level=level, minutes=minutes, made_by=by, made_at=now
        )
        audit.wrote("new_template", draft, by=by, now=now)
    return draft


def refuse_taken_name(name: str, *, besides: UUID | None = None) -> None:
    namesakes = models.Template.objects.filter(name__iexact=name)
    if (namesakes.exclude(pk=besides) if besides else namesakes).exists():
        says = f"There is a template named {name} already."
        raise Refused(
            Reason("name_taken", says, "name", "Choose another name, or open that one and make its next version.")
        )


def locked_draft(template_id: UUID, *, revision: int) -> models.Template:
    """The draft, locked. Raises Refused when it is no draft, or was changed after `revision`, with who did what."""
    template = models.Template.objects.select_for_update(of=("self",)).get(pk=template_id)
    if template.state != models.Template.State.DRAFT:
        says = f"{template.name} is {STATE_WORDS[template.state]} and no draft."
        raise Refused(Reason("no_draft", says, "deed", "Make its next version, or take it back first."))
    if template.revision != revision:
        told = "; ".join(one.told for one in drafts.changes_since(template_id, revision)[-3:])
        says = f"It was changed meanwhile. {told or 'Open it again.'}"
        raise Refused(Reason("changed_meanwhile", says, "revision", "Your change was not made; it can be made now."))
    return template


STATE_WORDS = {"draft": "a draft", "proposed": "with the owner", "active": "in use", "retired": "retired"}


def edit_draft(template_id: UUID, *, edit: building.Edit, revision: int, by: Person, now: datetime) -> Edited:
    """Change lines of a draft. Raises Refused as `locked_draft` does, and for what the rules of building refuse."""
    repertoire = repertoire_queries.exercises()

    def change(state: State) -> tuple[State, building.Made]:
        done = building.made(state.lines, edit, _with_retired(repertoire, state))
        return replace(state, lines=done.lines), done

    return _changed(template_id, change, revision=revision, by=by, now=now)


def _with_retired(repertoire: dict[str, ExerciseRow], state: State) -> dict[str, ExerciseRow]:
    """Exercises practised here, and those a line names that are practised no more."""
    gone = {line.exercise_id for line in state.lines} - repertoire.keys()
    return repertoire | repertoire_queries.known_exercises(gone) if gone else repertoire


def describe_draft(template_id: UUID, *, about: About, revision: int, by: Person, now: datetime) -> Edited:
    """Change what a draft is about. Raises Refused for a taken name, and a new name for a later version."""

    def change(state: State) -> tuple[State, building.Made]:
        if about.name != state.about.name:
            if models.Template.objects.filter(name=state.about.name).exclude(pk=template_id).exists():
                says = "A later version keeps the name of the ones before it."
                raise Refused(Reason("name_of_versions", says, "name", "Copy the template to give it another name."))
            refuse_taken_name(about.name, besides=template_id)
        return replace(state, about=about), building.Made(state.lines, "Name, aim, level and time kept.")

    return _changed(template_id, change, revision=revision, by=by, now=now)


def let_stand(
    template_id: UUID, *, rule: str, key: int, reason: str, revision: int, by: Person, now: datetime
) -> Edited:
    """Let a warning stand, with a reason; an empty reason takes that back. Raises Refused for a reason of no words."""
    words = " ".join(reason.split())
    if words and len(words) < REASON_LEAST:
        raise Refused(Reason("reason", "A reason needs a few words.", "reason", "Say why it may stand."))

    def change(state: State) -> tuple[State, building.Made]:
        others = tuple(one for one in state.stands if (one.rule, one.key) != (rule, key))
        mine = (Stand(rule, key, words, by.pk, now),) if words else ()
        says = f"{rule} stands: {words[:120]}" if words else f"{rule} warns again."
        return replace(state, stands=others + mine), building.Made(state.lines, says, keys=(key,) if key else ())

    return _changed(template_id, change, revision=revision, by=by, now=now)


def undo_change(template_id: UUID, *, revision: int, by: Person, now: datetime) -> Edited:
    """Take the last change of a draft back. Raises Refused when there is none."""
    with transaction.atomic():
        draft = locked_draft(template_id, revision=revision)
        last = draft.changes.filter(undone_by=None).order_by("-pk").first()
        if last is None:
            raise Refused(Reason("nothing_to_undo", "There is no change to take back.", "deed", "Nothing was changed."))
        return _turned(draft, last, to=last.before, undone_by=by, says=f"Taken back: {last.says}", by=by, now=now)


def redo_change(template_id: UUID, *, revision: int, by: Person, now: datetime) -> Edited:
    """Do again what was taken back. Raises Refused when there is nothing."""
    with transaction.atomic():
        draft = locked_draft(template_id, revision=revision)
        later = draft.changes.exclude(undone_by=None).order_by("pk").first()
        if later is None:
            raise Refused(Reason("nothing_to_redo", "There is nothing to do again.", "deed", "Nothing was changed."))
        return _turned(draft, later, to=later.after, undone_by=None, says=f"Done again: {later.says}", by=by, now=now)


def _turned(
    draft: models.Template,
    change: models.TemplateChange,
    *,
    to: dict[str, object],
    undone_by: Person | None,
    says: str,
    by: Person,
    now: datetime,
) -> Edited:
    write_state(draft, drafts.state_of(draft), drafts.read(to))
    draft.revision += 1
    draft.save(update_fields=["revision"])
    change.undone_by, change.revision = undone_by, draft.revision
    change.save(update_fields=["undone_by", "revision"])
    audit.wrote("edit_template", draft, by=by, now=now, detail={"revision": draft.revision})
    return Edited(says, (), draft.revision)


def _changed(
    template_id: UUID,
    change: Callable[[State], tuple[State, building.Made]],
    *,
    revision: int,
    by: Person,
    now: datetime,
) -> Edited:
    with transaction.atomic():
        draft = locked_draft(template_id, revision=revision)
        before = drafts.state_of(draft)
        wanted, done = change(before)
        if wanted == before:
            return Edited(done.says, done.follows, draft.revision, done.keys)
        after = write_state(draft, before, wanted)
        draft.revision += 1
        draft.save(update_fields=["revision"])
        # A new change closes the way to what had been taken back.
        draft.changes.exclude(undone_by=None).delete()
        models.TemplateChange.objects.create(
            template=draft, revision=draft.revision, says=done.says[:200],
            before=drafts.written(before), after=drafts.written(after), by=by, at=now,
        )  # fmt: skip
        _forget_old(draft)
        audit.wrote("edit_template", draft, by=by, now=now, detail={"revision": draft.revision})
    keys = _keys_after(wanted, after, done.keys)
    return Edited(done.says, done.follows, draft.revision, keys)


def _keys_after(wanted: State, after: State, keys: Sequence[int]) -> tuple[int, ...]:
    """The keys that new lines got when they were kept."""
    now = {asked.key: kept.key for asked, kept in zip(wanted.lines, after.lines, strict=True)}
    return tuple(now[key] for key in keys if key in now)


def _forget_old(draft: models.Template) -> None:
    kept = draft.changes.order_by("-pk").values_list("pk", flat=True)[:KEPT_CHANGES]
    draft.changes.exclude(pk__in=list(kept)).delete()


def write_state(template: models.Template, before: State, after: State) -> State:
    """Write what differs. Lines keep their keys, new ones get theirs; the state with the keys it has now."""
    if after.about != before.about:
        _write_about(template, after.about)
    if after.lines != before.lines:
        after = replace(after, lines=_write_lines(template, after.lines))
    if (after.stands, after.lines) != (before.stands, before.lines):
        after = replace(after, stands=_write_stands(template, after))
    return after


def _write_about(template: models.Template, about: About) -> None:
    template.name, template.aim, template.apparatus_kind = about.name, about.aim, about.kind.value
    template.level, template.minutes = about.level, about.minutes
    template.save(update_fields=["name", "aim", "apparatus_kind", "level", "minutes"])


def _write_lines(template: models.Template, lines: building.Draft) -> building.Draft:
    there = set(template.lines.values_list("pk", flat=True))
    template.lines.exclude(pk__in=[line.key for line in lines]).delete()
    template.lines.update(position=F("position") + PARKED)
    rows = [line_row(template, position, line) for position, line in enumerate(lines, 1)]
    models.TemplateLine.objects.bulk_update([row for row in rows if row.pk in there], LINE_COLUMNS)
    models.TemplateLine.objects.bulk_create([row for row in rows if row.pk not in there])
    return tuple(replace(line, key=row.pk) for line, row in zip(lines, rows, strict=True))


LINE_COLUMNS = ("position", "block", "reps", "springs", "adapted", "setup", "extra_one_side", "reason", "note")


def line_row(template: models.Template, position: int, line: building.DraftLine) -> models.TemplateLine:
    """The row of a line; not written yet."""
    return models.TemplateLine(
        # A line that comes back by undo has the key it had.
        pk=line.key if line.key > 0 else None,
        template=template,
        position=position,
        exercise_id=line.exercise_id,
        block=line.block,
        reps=line.reps,
        springs=line.springs,
        adapted=line.adapted,
        setup=dict(line.setup),
        extra_one_side=line.extra_one_side,
        reason=line.reason,
        note=line.note,
    )


def _write_stands(template: models.Template, state: State) -> tuple[Stand, ...]:
    """A warning that stands goes with its line, and is gone with it."""
    place = {line.key: position for position, line in enumerate(state.lines, 1)}
    stands = tuple(one for one in state.stands if not one.key or one.key in place)
    template.overrides.all().delete()
    models.TemplateOverride.objects.bulk_create(
        models.TemplateOverride(
            template=template, rule=one.rule, position=place.get(one.key), reason=one.reason, by_id=one.by_id, at=one.at
        )
        for one in stands
    )
    return stands
