"""The passes of the rules over every active client: how far each is, and what it found in numbers."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Max, Q, QuerySet

from clients import models
from clients.queries.versions import in_force_id

Kind, State = models.RuleRun.Kind, models.RuleRun.State
OPEN = (State.WAITING, State.RUNNING)


@dataclass(frozen=True)
class Move:
    """How many clients went from one outcome to another; the same twice where only limits differ."""

    before: str
    after: str
    count: int

    @property
    def only_limits(self) -> bool:
        return self.before == self.after


@dataclass(frozen=True)
class RunLine:
    """A run in numbers, without a name of any client."""

    id: UUID
    kind: str
    state: str
    version_id: int
    against_id: int | None
    why: str
    total: int
    done: int
    changed: int
    failed: int
    moves: tuple[Move, ...]
    asked_by: str
    asked_at: datetime
    finished_at: datetime | None

    @property
    def is_open(self) -> bool:
        return self.state in OPEN

    @property
    def is_done(self) -> bool:
        return self.state == State.DONE

    @property
    def is_comparison(self) -> bool:
        return self.kind == Kind.COMPARE


def run(run_id: UUID) -> RunLine:
    """Raises RuleRun.DoesNotExist."""
    return _line(_rows().get(pk=run_id))


def runs_of(version_id: int, *, most: int = 10) -> tuple[RunLine, ...]:
    """The runs of a version, the newest first."""
    return tuple(_line(row) for row in _rows().filter(rule_set_id=version_id).order_by("-asked_at", "-pk")[:most])


def newest_runs(*, most: int = 5) -> tuple[RunLine, ...]:
    """The newest runs of all versions."""
    return tuple(_line(row) for row in _rows().order_by("-asked_at", "-pk")[:most])


def open_run_ids() -> list[UUID]:
    """The runs that are not over, the oldest first."""
    return list(models.RuleRun.objects.filter(state__in=OPEN).order_by("asked_at").values_list("pk", flat=True))


def comparison_in_time(version_id: int) -> RunLine | None:
    """The finished comparison of this version with the one in force, begun after the newest change of the rules."""
    rows = _rows().filter(kind=Kind.COMPARE, state=State.DONE, rule_set_id=version_id, against_id=in_force_id())
    if (changed_at := newest_change()) is not None:
        rows = rows.filter(asked_at__gte=changed_at)
    row = rows.order_by("-asked_at").first()
    return _line(row) if row else None


def newest_change() -> datetime | None:
    """When the rules in force were last changed: another version put in force, or a choice of the owner."""
    put = models.RuleSet.objects.aggregate(at=Max("put_in_force_at"))["at"]
    chosen = models.RuleChoice.objects.aggregate(at=Max("chosen_at"))["at"]
    return max((at for at in (put, chosen) if at is not None), default=None)


def waiting(run_row: models.RuleRun, *, most: int) -> list[UUID]:
    """The next clients of a run in their order; empty when it has seen everybody."""
    rows = eligible(run_row)
    after = rows.filter(client_id__gt=run_row.after) if run_row.after else rows
    found = list(after.order_by("client_id").values_list("client_id", flat=True)[:most])
    if found or run_row.kind == Kind.COMPARE:
        return found
    # Somebody may have been screened by the rules of before while the run went past her.
    missed = rows.exclude(client__in=run_row.lines.filter(sealed_change=b"").values("client"))
    return list(missed.order_by("client_id").values_list("client_id", flat=True)[:most])


def eligible(run_row: models.RuleRun) -> QuerySet[models.Screening]:
    """The standing screenings that a run is about: all, or those that the rules now in force have not decided."""
    rows = models.Screening.objects.filter(
        replaced_at=None, form__signed_at__isnull=False, client__archived_at=None, client__erased_at=None
    )
    if run_row.kind == Kind.COMPARE:
        return rows
    return rows.filter(Q(decided_at__lt=run_row.asked_at) | ~Q(rule_set_id=run_row.rule_set_id))


def _rows() -> QuerySet[models.RuleRun]:
    return models.RuleRun.objects.select_related("asked_by")


def _line(row: models.RuleRun) -> RunLine:
    moves = [_move(key, count) for key, count in row.moves.items()]
    return RunLine(
        id=row.pk,
        kind=row.kind,
        state=row.state,
        version_id=row.rule_set_id,
        against_id=row.against_id,
        why=row.why,
        total=row.total,
        done=row.done,
        changed=row.changed,
        failed=row.failed,
        moves=tuple(sorted(moves, key=lambda one: (-one.count, one.before, one.after))),
        asked_by=row.asked_by.name if row.asked_by else "",
        asked_at=row.asked_at,
        finished_at=row.finished_at,
    )


def _move(key: str, count: int) -> Move:
    before, _, after = key.partition(">")
    return Move(before, after, count)
