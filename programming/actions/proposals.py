"""Changes of the repertoire that a teacher asks for, and the owner's word on them."""

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from django.db import transaction

from programming import models
from programming.actions import entries
from programming.rules import entries as rules
from programming.rules.entries import About
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused


def propose_change(
    about: About,
    key: str,
    *,
    wanted: Mapping[str, str],
    why: str,
    by: Person,
    now: datetime,
    seen_version: int | None = None,
) -> models.RepertoireProposal:
    """Ask for changed columns of a row or step. Nothing changes until an owner takes it over.

    Raises Refused without a reason, when nothing differs, when somebody changed it since `seen_version`, and with
    every fault the changed table would have; DoesNotExist.
    """
    _refuse_silence(why)
    with transaction.atomic():
        locked = entries.lock_all()
        kept = locked.of(about)[key] if key in locked.of(about) else entries.missing(about, key)
        entries.refuse_changed_meanwhile(about, kept, seen_version, wanted)
        changes = rules.changed(about, kept.row, wanted)
        if not changes:
            raise Refused(Reason("nothing_changed", "Nothing is changed in it.", allowed="change at least one field"))
        entries.refuse_broken(locked, about, key, changes)
        return _put(about, key, changes, why, by, now, base_version=kept.version)


def propose_new(
    about: About, *, wanted: Mapping[str, str], why: str, by: Person, now: datetime
) -> models.RepertoireProposal:
    """Ask for a new row or step. Raises Refused without a reason and with every fault it would bring."""
    _refuse_silence(why)
    with transaction.atomic():
        locked = entries.lock_all()
        row = entries.new_row(locked, about, wanted)
        columns = {name: row[name] for name in about.columns(is_new=True)}
        return _put(about, "", columns, why, by, now)


def propose_retiring(about: About, key: str, *, why: str, by: Person, now: datetime) -> models.RepertoireProposal:
    """Ask to take a row or step out of use. Raises Refused without a reason and while something leans on it."""
    _refuse_silence(why)
    with transaction.atomic():
        locked = entries.lock_all()
        kept = locked.of(about)[key] if key in locked.of(about) else entries.missing(about, key)
        entries.refuse_leaning(locked, about, key)
        return _put(about, key, {}, why, by, now, base_version=kept.version, retires=True)


def take_over(
    proposal_id: UUID, *, by: Person, now: datetime, seen_version: int | None = None, answer: str = ""
) -> models.RepertoireProposal:
    """Change the repertoire as proposed. Taken over already, it stays.

    `seen_version` is the version that was compared with. Raises Refused for anybody but an owner, when it was decided
    otherwise, when the row was changed since it was compared, and with every fault the table would have today.
    """
    entries.owners_only(by)
    with transaction.atomic():
        locked = entries.lock_all()
        proposal = _open(proposal_id, but="taken_over")
        if not proposal.decision:
            about = About(proposal.about)
            if proposal.key and proposal.base_version:
                kept = locked.of(about)[proposal.key]
                entries.refuse_changed_meanwhile(about, kept, seen_version, proposal.columns)
            proposal.made_version = _carry_out(locked, about, proposal, by, now)
            _decide(proposal, "taken_over", answer, by, now)
    return proposal


def turn_down(proposal_id: UUID, *, answer: str, by: Person, now: datetime) -> models.RepertoireProposal:
    """Say no, with words for whoever proposed it. Raises Refused without words, and for anybody but an owner."""
    entries.owners_only(by)
    if not answer.strip():
        raise Refused(Reason("no_words", "Say in a few words why not.", "answer"))
    with transaction.atomic():
        proposal = _open(proposal_id, but="turned_down")
        if not proposal.decision:
            _decide(proposal, "turned_down", answer, by, now)
    return proposal


def withdraw_proposal(proposal_id: UUID, *, by: Person, now: datetime) -> models.RepertoireProposal:
    """Take one's own proposal back before it is decided. Raises Refused for anybody else's."""
    with transaction.atomic():
        proposal = _open(proposal_id, but="withdrawn")
        if proposal.proposed_by_id != by.pk:
            raise Refused(Reason("not_yours", "Only who proposed it can withdraw it."))
        if not proposal.decision:
            _decide(proposal, "withdrawn", "", by, now)
    return proposal


def take_decision_back(proposal_id: UUID, *, by: Person, now: datetime) -> models.RepertoireProposal:
    """Undo what was decided: the proposal is open again, and what was taken over is as it was before.

    Raises Refused for anybody but an owner (or who withdrew it), and when the row was changed again since.
    """
    with transaction.atomic():
        locked = entries.lock_all()
        proposal = models.RepertoireProposal.objects.select_for_update().get(pk=proposal_id)
        if not proposal.decision:
            return proposal
        if not (proposal.decision == "withdrawn" and proposal.proposed_by_id == by.pk):
            entries.owners_only(by)
        if proposal.decision == "taken_over":
            _undo(locked, About(proposal.about), proposal, by, now)
        proposal.decision, proposal.answer, proposal.made_version = "", "", None
        proposal.decided_by, proposal.decided_at = None, None
        proposal.save()
        audit.wrote("take_decision_back", proposal, by=by, now=now)
    return proposal


def _refuse_silence(why: str) -> None:
    if not why.strip():
        raise Refused(Reason("no_reason", "Say in a few words what it is for.", "why"))
    if len(why) > rules.LONGEST:
        raise Refused(Reason("too_long", "That is too long.", "why", f"at most {rules.LONGEST} characters"))


def _put(
    about: About,
    key: str,
    columns: Mapping[str, str],
    why: str,
    by: Person,
    now: datetime,
    *,
    base_version: int = 0,
    retires: bool = False,
) -> models.RepertoireProposal:
    proposal = models.RepertoireProposal.objects.create(
        about=about.value,
        key=key,
        columns=dict(columns),
        retires=retires,
        base_version=base_version,
        why=" ".join(why.split()),
        proposed_by=by,
        proposed_at=now,
    )
    audit.wrote("propose_change", proposal, by=by, now=now)
    return proposal


def _open(proposal_id: UUID, *, but: str) -> models.RepertoireProposal:
    """The proposal, locked: open, or decided as is asked for again."""
    proposal = models.RepertoireProposal.objects.select_for_update(of=("self",)).get(pk=proposal_id)
    if proposal.decision not in ("", but):
        words = proposal.get_decision_display()
        raise Refused(Reason("decided", f"It is {words} already.", allowed="take that back first"))
    return proposal


def _decide(proposal: models.RepertoireProposal, decision: str, answer: str, by: Person, now: datetime) -> None:
    proposal.decision, proposal.answer = decision, " ".join(answer.split())[: rules.LONGEST]
    proposal.decided_by, proposal.decided_at = by, now
    proposal.save()
    audit.wrote(decision, proposal, by=by, now=now, why=proposal.answer)


def _carry_out(
    locked: entries.Locked, about: About, proposal: models.RepertoireProposal, by: Person, now: datetime
) -> int:
    """Make the change; the version that was made."""
    why = f"proposed by {proposal.proposed_by.name}: {proposal.why}"[: rules.LONGEST]
    if not proposal.key:
        row = entries.new_row(locked, about, proposal.columns)
        proposal.key = row[about.key]
        return entries.put_in(locked, about, row, by=by, why=why, now=now).version
    kept = locked.of(about)[proposal.key]
    if proposal.retires:
        entries.refuse_leaning(locked, about, proposal.key)
        entries.take_out(kept, by=by, now=now)
        return kept.version
    row = entries.refuse_broken(locked, about, proposal.key, proposal.columns)
    if not proposal.base_version:
        # A new row that was taken back and is wanted after all.
        kept.retired_by, kept.retired_at = None, None
    return entries.write(kept, row, by=by, why=why, now=now)


def _undo(locked: entries.Locked, about: About, proposal: models.RepertoireProposal, by: Person, now: datetime) -> None:
    kept = locked.of(about)[proposal.key]
    if kept.version != proposal.made_version:
        says = "It was changed again since."
        raise Refused(Reason("changed_again", says, allowed="go back to a version on its page"))
    if proposal.retires:
        entries.refuse_broken(locked, about, proposal.key, {})
        entries.put_back(kept)
    elif not proposal.base_version:
        entries.refuse_leaning(locked, about, proposal.key)
        entries.take_out(kept, by=by, now=now)
    else:
        before = kept.versions.get(version=proposal.made_version - 1).row
        wanted = rules.changed(about, kept.row, {name: before.get(name, "") for name in about.columns(is_new=False)})
        row = entries.refuse_broken(locked, about, proposal.key, wanted)
        entries.write(kept, row, by=by, why="the decision was taken back", now=now)
