"""From draft to use: proposed by a teacher, approved or sent back by the owner, copied, made anew as a next version."""

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from programming import models
from programming.actions.drafts import STATE_WORDS, locked_draft
from programming.queries import drafts
from programming.queries import repertoire as repertoire_queries
from programming.rules import building, validation
from programming.rules.building import standing
from programming.rules.timing import Slot
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused, Role

State = models.Template.State
LINE_COPIED = (
    *("position", "exercise_id", "springs", "reps", "note", "block", "adapted", "setup"),
    *("extra_one_side", "reason"),
)


def propose_template(template_id: UUID, *, revision: int, by: Person, now: datetime) -> models.Template:
    """Hand a draft to the owner; the owner's own is in use at once.

    Raises Refused for what blocks, and for a warning that stands without a reason.
    """
    with transaction.atomic():
        draft = locked_draft(template_id, revision=revision)
        refuse_unready(draft)
        if by.has_role(Role.OWNER):
            return _put_in_use(draft, by=by, now=now)
        draft.state, draft.answer = State.PROPOSED, ""
        draft.save(update_fields=["state", "answer"])
        audit.wrote("propose_template", draft, by=by, now=now)
    return draft


def refuse_unready(template: models.Template) -> None:
    """Raises Refused with every rule that blocks, or with every warning that has no reason yet."""
    state = drafts.state_of(template)
    if not state.lines:
        raise Refused(Reason("no_lines", "A template needs at least one exercise.", "lines", "Put a series in first."))
    repertoire = repertoire_queries.exercises()
    gone = {line.exercise_id for line in state.lines} - repertoire.keys()
    if gone:
        names = ", ".join(sorted(row.name for row in repertoire_queries.known_exercises(gone).values()))
        raise Refused(Reason("retired_exercise", f"Practised here no more: {names}.", "lines", "Take it out first."))
    found = validation.report(
        building.as_lines(state.lines, repertoire),
        repertoire,
        repertoire_queries.times(),
        slot=Slot(state.about.minutes * 60),
    )
    if reasons := standing.against_use(found, {(one.rule, one.key) for one in state.stands}):
        raise Refused(list(reasons))


def approve_template(template_id: UUID, *, by: Person, now: datetime) -> models.Template:
    """Put a proposed template in use. Raises Refused when it is not proposed, or blocks by now."""
    with transaction.atomic():
        template = _locked(template_id, State.PROPOSED)
        refuse_unready(template)
        return _put_in_use(template, by=by, now=now)


def _put_in_use(template: models.Template, *, by: Person, now: datetime) -> models.Template:
    others = models.Template.objects.filter(name=template.name, state=State.ACTIVE).exclude(pk=template.pk)
    others.update(state=State.RETIRED, retired_at=now)
    template.state, template.retired_at, template.answer = State.ACTIVE, None, ""
    template.decided_by, template.decided_at = by, now
    template.save(update_fields=["state", "retired_at", "answer", "decided_by", "decided_at"])
    audit.wrote("approve_template", template, by=by, now=now)
    return template


def send_back_template(template_id: UUID, *, words: str, by: Person, now: datetime) -> models.Template:
    """Give a proposed template back to its maker as a draft, with words. Raises Refused without words."""
    with transaction.atomic():
        template = _locked(template_id, State.PROPOSED)
        answer = " ".join(words.split())
        if not answer:
            raise Refused(Reason("no_words", "Say what should be different.", "words", "A sentence is enough."))
        template.state, template.answer = State.DRAFT, answer[:300]
        template.decided_by, template.decided_at = None, None
        template.save(update_fields=["state", "answer", "decided_by", "decided_at"])
        audit.wrote("send_back_template", template, by=by, now=now)
    return template


def take_back_template(template_id: UUID, *, by: Person, now: datetime) -> models.Template:
    """Make a proposed template a draft again. Raises Refused when it is not proposed."""
    with transaction.atomic():
        template = _locked(template_id, State.PROPOSED)
        template.state = State.DRAFT
        template.save(update_fields=["state"])
        audit.wrote("take_back_template", template, by=by, now=now)
    return template


def retire_template(template_id: UUID, *, by: Person, now: datetime) -> models.Template:
    """Put a template away, draft or in use; programs made from it stay. Raises Refused for one that is away already."""
    with transaction.atomic():
        template = _locked(template_id, State.DRAFT, State.ACTIVE)
        if template.state == State.ACTIVE and not by.has_role(Role.OWNER):
            raise Refused(Reason("owner_only", "What is in use is put away by the owner.", "deed", "Ask the owner."))
        template.state, template.retired_at = State.RETIRED, now
        template.save(update_fields=["state", "retired_at"])
        audit.wrote("retire_template", template, by=by, now=now)
    return template


def bring_back_template(template_id: UUID, *, by: Person, now: datetime) -> models.Template:
    """A retired template back where it was: in use, in place of the version that is now, or a draft.

    Raises Refused when it is not retired, when it blocks by now, and for a teacher who would put one in use.
    """
    with transaction.atomic():
        template = _locked(template_id, State.RETIRED)
        if template.decided_at is None:
            template.state, template.retired_at = State.DRAFT, None
            template.save(update_fields=["state", "retired_at"])
            audit.wrote("bring_back_template", template, by=by, now=now)
            return template
        if not by.has_role(Role.OWNER):
            raise Refused(Reason("owner_only", "The owner brings it back into use.", "deed", "Copy it to work on it."))
        refuse_unready(template)
        return _put_in_use(template, by=by, now=now)


def copy_template(template_id: UUID, *, by: Person, now: datetime) -> models.Template:
    """A draft of its own name with the same lines."""
    with transaction.atomic():
        source = models.Template.objects.get(pk=template_id)
        return _copied(source, name=_free_name(source.name), version=1, by=by, now=now)


def next_version(template_id: UUID, *, by: Person, now: datetime) -> models.Template:
    """A draft of the next version. Raises Refused when the name has an open draft already."""
    with transaction.atomic():
        source = models.Template.objects.select_for_update(of=("self",)).get(pk=template_id)
        namesakes = models.Template.objects.filter(name=source.name)
        if open_one := namesakes.filter(state__in=[State.DRAFT, State.PROPOSED]).first():
            says = f"Version {open_one.version} of {source.name} is {STATE_WORDS[open_one.state]} already."
            raise Refused(Reason("open_version", says, "deed", "Open that one, or copy this under another name."))
        version = (namesakes.aggregate(most=Max("version"))["most"] or 0) + 1
        return _copied(source, name=source.name, version=version, by=by, now=now)


def _copied(source: models.Template, *, name: str, version: int, by: Person, now: datetime) -> models.Template:
    made = models.Template.objects.create(
        name=name,
        aim=source.aim,
        apparatus_kind=source.apparatus_kind,
        level=source.level,
        minutes=source.minutes,
        version=version,
        made_by=by,
        made_at=now,
        copied_from=source,
    )
    rows = source.lines.order_by("position").values(*LINE_COPIED)
    models.TemplateLine.objects.bulk_create(models.TemplateLine(template=made, **row) for row in rows)
    stands = source.overrides.values("rule", "position", "reason", "by_id", "at")
    models.TemplateOverride.objects.bulk_create(models.TemplateOverride(template=made, **row) for row in stands)
    audit.wrote("copy_template", made, by=by, now=now, detail={"from": str(source.pk)})
    return made


def _free_name(name: str) -> str:
    taken = {one.lower() for one in models.Template.objects.values_list("name", flat=True)}
    stem = f"{name[:100]}, copy"
    tries = [stem, *(f"{stem} {number}" for number in range(2, len(taken) + 3))]
    return next(one for one in tries if one.lower() not in taken)


def _locked(template_id: UUID, *states: str) -> models.Template:
    template = models.Template.objects.select_for_update(of=("self",)).get(pk=template_id)
    if template.state not in _words(states):
        says = f"{template.name} is {STATE_WORDS[template.state]}."
        raise Refused(Reason("another_state", says, "deed", "Look at it again: somebody may have decided meanwhile."))
    return template


def _words(states: Collection[str]) -> set[str]:
    return {str(state) for state in states}
