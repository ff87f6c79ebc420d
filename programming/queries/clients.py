"""Where a client stands with the repertoire."""

from collections.abc import Collection
from dataclasses import dataclass
from uuid import UUID

from programming import models
from programming.rules.marks import Mark, Standing
from programming.rules.progress import Entry


@dataclass(frozen=True)
class Known:
    """Exercise ids this client has met, and those she owns."""

    met: frozenset[str]
    owned: frozenset[str]


def known_by(client_id: UUID) -> Known:
    rows = models.Ownership.objects.filter(client_id=client_id).values_list("exercise_id", "standing")
    standings = dict(rows)
    owned = frozenset(key for key, standing in standings.items() if standing == Standing.OWNED)
    return Known(frozenset(standings), owned)


def histories(client_id: UUID, exercise_ids: Collection[str]) -> dict[str, list[Entry]]:
    """The finished log of each exercise, oldest first; two queries at most, whatever the number."""
    rows = (
        models.LogLine.objects.filter(
            log__program__client_id=client_id,
            log__finished_at__isnull=False,
            program_line__exercise_id__in=exercise_ids,
        )
        .order_by("log__started_at", "program_line__position")
        .values_list("program_line__exercise_id", "log__started_at", "mark", "score")
    )
    found: dict[str, list[Entry]] = {key: [] for key in exercise_ids}
    for key, started, mark, score in rows:
        found[key].append(Entry(on=started.date(), mark=Mark(mark), score=score))
    return found
