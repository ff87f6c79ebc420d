"""What the finished logs say of each exercise of a client, one entry a lesson, and a senior teacher's words on it."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from uuid import UUID
from zoneinfo import ZoneInfo

from programming import models
from programming.rules.felt import Felt
from programming.rules.marks import Mark
from programming.rules.progress import Entry, Granted, together
from studio import queries as studio_queries
from studio.rules import zones

Histories = Mapping[str, Sequence[Entry]]
NOTHING: Mapping[UUID, Felt] = {}


@dataclass(frozen=True)
class MarkedLine:
    """One marked line of a finished log: day and start of its lesson, and since when the log is finished.

    `is_felt` when something sealed is kept of it.
    """

    id: UUID
    log_id: UUID
    exercise_id: str
    on: date
    at: datetime
    known_at: datetime
    mark: Mark
    score: int | None
    is_felt: bool


@dataclass(frozen=True)
class Practice:
    """What one lesson says of one exercise, and since when it is known."""

    log_id: UUID
    known_at: datetime
    entry: Entry


def marked_lines(client_id: UUID, *, exercise_ids: Collection[str] | None = None) -> list[MarkedLine]:
    """Her marked lines in finished lessons, oldest first; one query."""
    rows = models.LogLine.objects.filter(log__program__client_id=client_id, log__finished_at__isnull=False)
    if exercise_ids is not None:
        rows = rows.filter(program_line__exercise_id__in=exercise_ids)
    columns = (
        *("id", "log_id", "program_line__exercise_id", "log__place__during", "log__place__lesson__studio__time_zone"),
        *("log__finished_at", "mark", "score", "sealed_felt"),
    )
    return [
        MarkedLine(key, log_id, exercise, _day(during, zone), during.lower, known, Mark(mark), score, bool(felt))
        for key, log_id, exercise, during, zone, known, mark, score, felt in rows.order_by(
            "log__place__during", "log_id", "program_line__position"
        ).values_list(*columns)
    ]


def _day(during: object, zone: str) -> date:
    return zones.local_day(during.lower, ZoneInfo(zone))  # type: ignore[attr-defined]


def practices(lines: Iterable[MarkedLine], felts: Mapping[UUID, Felt] = NOTHING) -> dict[str, list[Practice]]:
    """Lines by exercise, one entry a lesson, oldest first; `felts` by line, as far as they were opened."""
    found: dict[str, list[Practice]] = {}
    for (log_id, exercise_id), group in groupby(_sorted(lines), key=lambda line: (line.log_id, line.exercise_id)):
        of_lesson = list(group)
        entry = together([_entry(line, felts.get(line.id, Felt())) for line in of_lesson])
        found.setdefault(exercise_id, []).append(Practice(log_id, of_lesson[0].known_at, entry))
    return found


def _sorted(lines: Iterable[MarkedLine]) -> list[MarkedLine]:
    return sorted(lines, key=lambda line: (line.at, str(line.log_id), line.exercise_id))


def _entry(line: MarkedLine, felt: Felt) -> Entry:
    return Entry(line.on, line.mark, line.score, felt.pain, bool(felt.symptom), felt.lasting)


def histories(client_id: UUID, exercise_ids: Collection[str] | None = None) -> dict[str, list[Entry]]:
    """The entries of each exercise, oldest first, what was felt left sealed; one query, whatever the number."""
    found = practices(marked_lines(client_id, exercise_ids=exercise_ids))
    wanted = found if exercise_ids is None else dict.fromkeys(exercise_ids)
    return {key: [one.entry for one in found.get(key, ())] for key in wanted}


def grants(client_id: UUID, exercise_ids: Collection[str] | None = None) -> dict[str, list[Granted]]:
    """The words of senior teachers in force, by exercise, oldest first; two queries."""
    rows = models.Grant.objects.filter(client_id=client_id, taken_back_at=None)
    if exercise_ids is not None:
        rows = rows.filter(exercise_id__in=exercise_ids)
    zone = studio_queries.house_zone()
    found: dict[str, list[Granted]] = {}
    for exercise_id, owned, at in rows.order_by("at").values_list("exercise_id", "owned", "at"):
        found.setdefault(exercise_id, []).append(Granted(zones.local_day(at, zone), owned))
    return found


def last_scores(histories: Histories) -> dict[str, int]:
    """The last score of each exercise in its own form."""
    found = {}
    for exercise_id, entries in histories.items():
        scores = [entry.score for entry in entries if entry.shows_the_exercise and entry.score is not None]
        if scores:
            found[exercise_id] = scores[-1]
    return found
