"""The lines of a client's finished logs as a table, one row a line; what is sealed comes in opened."""

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID
from zoneinfo import ZoneInfo

from programming import models
from programming.queries import repertoire
from programming.rules.felt import Felt
from programming.rules.load import lesson_load
from programming.rules.marks import Decision, Mark
from programming.rules.papers import Cell
from programming.rules.repertoire import ExerciseRow
from studio.rules import zones

HEADER = (
    *("Day", "Starts", "Minutes", "Teacher", "Template", "Machine", "Lesson effort", "Lesson load", "Lesson note"),
    *("Line", "Exercise key", "Exercise", "Fitting", "Springs", "Repetitions planned", "Mark", "Repetitions done"),
    *("Score", "Pain", "What was felt", "Line note"),
)


@dataclass(frozen=True)
class Words:
    """What was sealed, opened: what was felt and noted by log line, and the notes by log."""

    felts: Mapping[UUID, Felt]
    line_notes: Mapping[UUID, str]
    lesson_notes: Mapping[UUID, str]


def finished_logs(client_id: UUID) -> list[models.Log]:
    """Her finished logs, oldest first, loaded with all that a row tells; three queries."""
    rows = models.Log.objects.filter(program__client_id=client_id, finished_at__isnull=False)
    rows = rows.select_related("kept_by", "program__template", "place__lesson__studio", "place__apparatus")
    return list(rows.prefetch_related("lines__program_line").order_by("place__during"))


def log_rows(logs: list[models.Log], words: Words) -> list[list[Cell]]:
    """One row a marked line; the note of a lesson stands on its first."""
    found: list[list[Cell]] = []
    rows = repertoire.versions_of({_taught(line) for log in logs for line in log.lines.all()})
    for log in logs:
        for at, line in enumerate(sorted(log.lines.all(), key=lambda line: line.program_line.position)):
            note = words.lesson_notes.get(log.pk, "") if at == 0 else ""
            found.append([*_lesson_cells(log), note, *_line_cells(line, rows[_taught(line)], words)])
    return found


def _taught(line: models.LogLine) -> tuple[str, int]:
    """The exercise of a marked line, which was never left out, and the version it was fitted with."""
    planned = line.program_line
    return planned.exercise_id or planned.planned_id, planned.exercise_version


def _lesson_cells(log: models.Log) -> list[Cell]:
    during = log.place.during
    starts = zones.reading(during.lower, ZoneInfo(log.place.lesson.studio.time_zone))
    minutes = int((during.upper - during.lower).total_seconds() // 60)
    load = None if log.effort is None else lesson_load(log.effort, minutes)
    return [
        *(starts.date().isoformat(), f"{starts:%H:%M}", minutes, log.kept_by.name, log.program.template.name),
        *(log.place.apparatus.label, log.effort, load),
    ]


def _line_cells(line: models.LogLine, row: ExerciseRow, words: Words) -> list[Cell]:
    planned, felt = line.program_line, words.felts.get(line.pk, Felt())
    return [
        *(planned.position, row.id, row.name, Decision(planned.decision).words, line.spring_set, planned.reps),
        *(Mark(line.mark).words, line.reps, line.score, felt.pain, Felt(None, felt.symptom, felt.lasting).words),
        words.line_notes.get(line.pk, ""),
    ]
