"""What past lessons tell: the last one of a client, and where she stands."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from programming import models
from programming.queries import programs
from programming.rules.marks import Mark, Standing
from programming.rules.progress import PAUSED_AFTER_DAYS

SHOWN = 8


@dataclass(frozen=True)
class ToldLine:
    """A line of the last lesson that did not go as planned."""

    name: str
    mark: Mark
    score: int | None


@dataclass(frozen=True)
class LastLesson:
    """The last finished lesson: its day, who taught it, and what did not go as planned. Notes stay sealed here."""

    log_id: UUID
    on: date
    template: str
    taught_by: str
    started_at: datetime
    done: int
    lines: tuple[ToldLine, ...]
    has_note: bool
    fitted_for: dict[str, object]


@dataclass(frozen=True)
class Stands:
    """Where a client stands with one exercise."""

    name: str
    standing: Standing
    times: int
    last_on: date


def last_lesson(client_id: UUID, *, before: datetime) -> LastLesson | None:
    """Her last finished lesson that began before an instant, named as it was planned; three queries."""
    logs = models.Log.objects.filter(
        program__client_id=client_id, finished_at__isnull=False, place__during__startswith__lt=before
    )
    logs = logs.select_related("program__template", "kept_by", "place__lesson__studio")
    log = logs.order_by("-place__during").first()
    if log is None:
        return None
    rows = list(log.lines.select_related("program_line").order_by("program_line__position"))
    names = programs.rows_of([row.program_line for row in rows])
    told = [ToldLine(names[row.program_line.position].taught.name, Mark(row.mark), row.score) for row in rows]
    zone = ZoneInfo(log.place.lesson.studio.time_zone)
    return LastLesson(
        log_id=log.pk,
        on=log.place.during.lower.astimezone(zone).date(),
        template=log.program.template.name,
        taught_by=log.kept_by.name,
        started_at=log.started_at,
        done=sum(line.mark is Mark.DONE for line in told),
        lines=tuple(line for line in told if line.mark is not Mark.DONE)[:SHOWN],
        has_note=log.sealed_note is not None,
        fitted_for=log.program.fitted_for,
    )


def standings(client_id: UUID, *, since: date | None = None, on: date | None = None, limit: int = 60) -> list[Stands]:
    """Where she stands with each exercise (on a day: what is unseen for long is paused), those practised last first.

    One query.
    """
    rows = models.Ownership.objects.filter(client_id=client_id).select_related("exercise")
    if since:
        rows = rows.filter(last_on__gte=since)
    found = rows.order_by("-last_on", "exercise__apparatus_kind", "exercise__order_in_apparatus")[:limit]
    return [Stands(str(row.exercise), _standing(row, on), row.times, row.last_on) for row in found]


def _standing(row: models.Ownership, on: date | None) -> Standing:
    is_paused = on is not None and (on - row.last_on).days >= PAUSED_AFTER_DAYS
    return Standing.PAUSED if is_paused else Standing(row.standing)
