"""Passes of the rules over every active client, in small transactions: to compare a version, or to screen all anew.

A run may be cut off at any moment: each client is one transaction together with the count, so it goes on where it was.
"""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid4

from django.db import connection, transaction

from clients import models, queries
from clients.actions import facts, health, locks, screening, seals
from clients.queries import runs as run_queries
from clients.rules import screening as screening_rules
from clients.rules import versions as version_rules
from clients.rules.outcomes import Outcome
from clients.rules.sealing import SealBroken
from clients.rules.versions import Comparison, LimitChange
from studio import models as studio_models
from studio.actions import audit
from studio.later import after_commit
from studio.rules import Reason, Refused

log = logging.getLogger(__name__)
Kind, State = models.RuleRun.Kind, models.RuleRun.State
ACTOR = "pass of the rules"
TASK = "clients.tasks.go_on_with_run"
ASKED_FOR = "rules"
BATCH = 200
# Names of clients shown at once.
PAGE = 100
# What may keep one client from being screened: sealed words that do not open, an id that the version does not hold.
NOT_SCREENED = (SealBroken, LookupError, ValueError)


@dataclass(frozen=True)
class ChangedClient:
    """A client of whom two versions, or before and after, say different things. `failed`: she could not be screened."""

    client_id: UUID
    name: str
    failed: bool
    before: str
    after: str
    limits: tuple[LimitChange, ...]


@dataclass(frozen=True)
class ChangedPage:
    """One page of the clients of a run; `next_page` is 0 on the last."""

    clients: tuple[ChangedClient, ...]
    total: int
    next_page: int


def compare_on_everybody(version_id: int, *, by: studio_models.Person, now: datetime) -> models.RuleRun:
    """Begin to compare a version with the one in force on every active client; one that is under way is returned.

    Raises Refused `in_force` for the version in force itself, and `no_rules`.
    """
    with transaction.atomic():
        locks.alone("rule_run")
        against = queries.rules_in_force()
        if against.id == version_id:
            raise Refused(Reason("in_force", "This version is in force: there is nothing to compare it with."))
        rule_set = models.RuleSet.objects.defer("tables").get(pk=version_id)
        return _begun(Kind.COMPARE, rule_set, against.id, f"{rule_set.note}"[:200] or ASKED_FOR, by, now)


def screen_everybody(*, why: str, by: studio_models.Person | None, now: datetime) -> models.RuleRun:
    """Begin to screen every active client anew by the rules in force, after a change or to be sure.

    A pass that is under way for the same rules is stopped: the new one looks at everybody. Raises Refused `say_why`.
    """
    why = said(why)
    with transaction.atomic():
        locks.alone("rule_run")
        rules = queries.rules_in_force()
        for row in models.RuleRun.objects.select_for_update().filter(kind=Kind.RESCREEN, state__in=run_queries.OPEN):
            _end(row, State.STOPPED, now)
        rule_set = models.RuleSet.objects.defer("tables").get(pk=rules.id)
        return _begun(Kind.RESCREEN, rule_set, None, why, by, now)


def stop_run(run_id: UUID, *, by: studio_models.Person, now: datetime) -> models.RuleRun:
    """Stop a run after the client it is at; what it did stays. A run that is over stays as it is."""
    with transaction.atomic():
        row = models.RuleRun.objects.select_for_update().get(pk=run_id)
        if row.state in run_queries.OPEN:
            _end(row, State.STOPPED, now)
            audit.wrote("stop_run", row, by=by, now=now)
    return row


def go_on_with_stopped(run_id: UUID, *, by: studio_models.Person, now: datetime) -> models.RuleRun:
    """Let a stopped run go on where it was. Raises Refused `is_over` for one whose rules are not in force any more."""
    with transaction.atomic():
        row = models.RuleRun.objects.select_for_update().get(pk=run_id)
        if row.state != State.STOPPED:
            return row
        anchor = row.rule_set_id if row.kind == Kind.RESCREEN else row.against_id
        if anchor != queries.rules_in_force().id:
            raise Refused(Reason("is_over", "Other rules are in force by now. Choose to begin a new one."))
        row.state, row.finished_at = State.RUNNING, None
        row.save(update_fields=["state", "finished_at"])
        audit.wrote("go_on_with_run", row, by=by, now=now)
        after_commit(TASK, run_id=str(row.pk))
    return row


def go_on(run_id: UUID, *, now: datetime, most: int = BATCH) -> bool:
    """Do the next clients of a run; whether there may be more, for which the task is asked for again.

    Safe to repeat and to run twice at once: the second leaves, and no client is screened twice.
    """
    with _alone_with(run_id) as is_mine:
        if not is_mine:
            return False
        row = models.RuleRun.objects.get(pk=run_id)
        if row.state not in run_queries.OPEN:
            return False
        waiting = run_queries.waiting(row, most=most)
        for client_id in waiting:
            _look_at(run_id, client_id, now)
        if not waiting:
            _finish(run_id, now)
    if waiting:
        after_commit(TASK, run_id=str(run_id))
    return bool(waiting)


def pick_up_runs() -> int:
    """Ask again for every run that is not over: its worker, or the message to it, may have been lost."""
    open_ids = run_queries.open_run_ids()
    for run_id in open_ids:
        after_commit(TASK, run_id=str(run_id))
    return len(open_ids)


def who_changed(run_id: UUID, *, page: int, by: studio_models.Person, now: datetime, why: str) -> ChangedPage:
    """The clients whom a run found changed, or could not screen, by name; each is recorded as read.

    Pages count from 1. Raises Refused `say_why`.
    """
    why = said(why)
    with transaction.atomic():
        row = models.RuleRun.objects.get(pk=run_id)
        lines = row.lines.select_related("client").order_by("client__name_key", "client_id")
        total, start = lines.count(), max(0, page - 1) * PAGE
        found = tuple(_opened(line, by=by, now=now, why=why) for line in lines[start : start + PAGE])
    return ChangedPage(found, total, page + 1 if start + PAGE < total else 0)


def said(why: str) -> str:
    """A reason in one line. Raises Refused `say_why` for an empty one."""
    if words := " ".join(why.split())[:200]:
        return words
    raise Refused(Reason("say_why", "Say why in a few words; it is kept with your name.", "why", "a few words"))


def _begun(
    kind: models.RuleRun.Kind,
    rule_set: models.RuleSet,
    against_id: int | None,
    why: str,
    by: studio_models.Person | None,
    now: datetime,
) -> models.RuleRun:
    same = models.RuleRun.objects.filter(kind=kind, rule_set=rule_set, against_id=against_id)
    if row := same.filter(state__in=run_queries.OPEN).first():
        after_commit(TASK, run_id=str(row.pk))
        return row
    row = models.RuleRun(kind=kind, rule_set=rule_set, against_id=against_id, why=why, asked_by=by, asked_at=now)
    row.total = run_queries.eligible(row).count()
    row.save(force_insert=True)
    audit.wrote("begin_run", row, by=by, now=now, why=why, detail={"kind": kind.value, "clients": row.total})
    after_commit(TASK, run_id=str(row.pk))
    return row


@contextmanager
def _alone_with(run_id: UUID) -> Iterator[bool]:
    """Whether this connection is the only one that works on the run; let go of when it closes, a kill included."""
    key = f"clients.run.{run_id}"
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_lock(hashtextextended(%s, 0))", [key])
        is_mine = bool(cursor.fetchone()[0])
    try:
        yield is_mine
    finally:
        if is_mine:
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_unlock(hashtextextended(%s, 0))", [key])


def _look_at(run_id: UUID, client_id: UUID, now: datetime) -> None:
    """One client and the count of the run, together or not at all."""
    with transaction.atomic():
        row = models.RuleRun.objects.select_for_update().get(pk=run_id)
        if row.state not in run_queries.OPEN:
            return
        clients = models.Client.objects.select_for_update(of=("self",)).select_related("home")
        client = clients.filter(pk=client_id).first()
        standing = run_queries.eligible(row).filter(client_id=client_id).first()
        if client is not None and standing is not None:
            _note(row, client, _found(row, client, standing, now), now)


def _found(row: models.RuleRun, client: models.Client, standing: models.Screening, now: datetime) -> Comparison | None:
    """What differs for the client; None when she could not be screened, and then nothing of hers is changed."""
    try:
        with transaction.atomic():
            return _compared(row, client, now) if row.kind == Kind.COMPARE else _screened(client, standing, now)
    except NOT_SCREENED as error:
        log.warning("client %s could not be screened: %s", client.pk, type(error).__name__)
        return None


def _compared(row: models.RuleRun, client: models.Client, now: datetime) -> Comparison:
    form = screening.form_in_force(client)
    if form is None or row.against_id is None:
        raise LookupError("no signed form")
    answers = dict(seals.opened(form, "sealed_answers", client=client))
    audit.read("compare_rules", form, by=None, now=now, client_key=client.pk, why=ASKED_FOR, actor=ACTOR)
    choices, on = queries.choices(), queries.day_of(now, client)

    def seen(version_id: int) -> screening_rules.Screened:
        book = queries.rules_of(version_id).rulebook
        known = facts.gathered(client, form, answers, rulebook=book, now=now)
        return screening_rules.screen(known, book, on=on, choices=choices)

    names = queries.rules_of(row.rule_set_id).rulebook.demands
    return version_rules.compared(seen(row.against_id), seen(row.rule_set_id), names)


@dataclass(frozen=True)
class _Seen:
    outcome: Outcome
    limits: tuple[version_rules.LimitFound, ...]


def _screened(client: models.Client, before: models.Screening, now: datetime) -> Comparison:
    was = _Seen(Outcome(before.outcome), health.limits_of(before, client=client))
    after = screening.screen_again(client, asked_for=ASKED_FOR, by=None, now=now, actor=ACTOR)
    if after is None:
        raise LookupError("no signed form")
    becomes = _Seen(Outcome(after.outcome), health.limits_of(after, client=client))
    return version_rules.compared(was, becomes, queries.rules_in_force().rulebook.demands)


def _note(row: models.RuleRun, client: models.Client, found: Comparison | None, now: datetime) -> None:
    is_failed, is_changed = found is None, found is not None and not found.is_same
    row.state, row.started_at = State.RUNNING, row.started_at or now
    row.after = max(row.after, client.pk) if row.after else client.pk
    row.done += 1
    row.total = max(row.total, row.done)
    row.failed += is_failed
    row.changed += is_changed
    if found is not None and is_changed:
        row.moves[found.move] = row.moves.get(found.move, 0) + 1
    row.save(update_fields=["state", "started_at", "after", "done", "total", "failed", "changed", "moves"])
    if is_failed or is_changed:
        _keep_line(row, client, found)


def _keep_line(row: models.RuleRun, client: models.Client, found: Comparison | None) -> None:
    """A client who could not be screened is kept with nothing sealed."""
    line = models.RuleRunLine(id=uuid4(), run=row, client=client, sealed_change=b"")
    if found is not None:
        words = {
            "before": found.before.value,
            "after": found.after.value,
            "limits": [vars(one) for one in found.limits],
        }
        line.sealed_change = seals.sealed(words, row=line, column="sealed_change", client=client)
    models.RuleRunLine.objects.filter(run=row, client=client).delete()
    line.save(force_insert=True)


def _opened(line: models.RuleRunLine, *, by: studio_models.Person, now: datetime, why: str) -> ChangedClient:
    client = line.client
    audit.read("read_rule_change", line, by=by, now=now, client_key=client.pk, why=why)
    if not line.sealed_change:
        return ChangedClient(client.pk, client.name, True, "", "", ())
    words = seals.opened(line, "sealed_change", client=client)
    limits = tuple(LimitChange(**one) for one in words["limits"])
    return ChangedClient(client.pk, client.name, False, words["before"], words["after"], limits)


def _finish(run_id: UUID, now: datetime) -> None:
    with transaction.atomic():
        row = models.RuleRun.objects.select_for_update().get(pk=run_id)
        if row.state in run_queries.OPEN:
            # Clients who were archived or went on meanwhile are not waited for.
            row.total = row.done
            row.save(update_fields=["total"])
            _end(row, State.DONE, now)
            audit.wrote("finish_run", row, by=None, now=now, actor=ACTOR, detail={"changed": row.changed})


def _end(row: models.RuleRun, state: models.RuleRun.State, now: datetime) -> None:
    row.state, row.finished_at = state, now
    row.save(update_fields=["state", "finished_at"])
