"""One exercise of one client: every lesson with it, what was granted and decided, and what comes next."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from clients import queries as client_queries
from programming import models
from programming.queries import decisions as decision_queries
from programming.queries import histories as history_queries
from programming.queries.decisions import Decided
from programming.queries.progress import Facts, Onward, Reader, StandRow, onward_of, stand_rows
from programming.rules.felt import Felt
from programming.rules.levels import is_senior
from programming.rules.marks import Decision, Mark
from programming.rules.progress import Proposal, Step, proposal
from programming.rules.repertoire import exercise_from
from studio import queries as studio_queries
from studio.rules import zones


@dataclass(frozen=True)
class LessonLine:
    """One marked line: when, by whom, how it was fitted, what was done, and what was felt, in words."""

    id: UUID
    line_id: UUID
    place_id: UUID
    on: date
    taught_by: str
    decision: Decision
    springs: str
    reps: int | None
    mark: Mark
    score: int | None
    felt: str
    is_finished: bool


@dataclass(frozen=True)
class GrantLine:
    id: UUID
    owned: bool
    reason: str
    by: str
    on: date
    is_taken_back: bool


@dataclass(frozen=True)
class DecisionLine:
    id: UUID
    proposed: Step
    decided: Step
    by: str
    on: date
    is_taken_back: bool


@dataclass(frozen=True)
class ExerciseHistory:
    """`row` is None for an exercise she has neither practised nor been granted."""

    client_id: UUID
    client_name: str
    exercise_id: str
    name: str
    row: StandRow | None
    proposal: Proposal | None
    decided: Decided | None
    onward: Onward
    lessons: tuple[LessonLine, ...]
    grants: tuple[GrantLine, ...]
    decisions: tuple[DecisionLine, ...]
    may_grant: bool

    @property
    def next_words(self) -> str:
        return self.onward.words(self.proposal.step) if self.proposal else ""


def history(
    client: client_queries.ClientCard,
    exercise: models.Exercise,
    *,
    felts: Mapping[UUID, Felt],
    reasons: Mapping[UUID, str],
    reader: Reader,
) -> ExerciseHistory:
    """`felts` by log line and `reasons` by grant are opened; a fixed number of queries."""
    read = exercise_from(exercise.row)
    lines = history_queries.marked_lines(client.id, exercise_ids=[exercise.pk])
    granted = history_queries.grants(client.id, [exercise.pk])
    practices = history_queries.practices(lines, felts)
    last = decision_queries.last_decisions(client.id).get(exercise.pk)
    counted = decision_queries.counted(practices.get(exercise.pk, ()), last)
    rows = stand_rows(practices, Facts(tuple(lines), granted, {}, {exercise.pk: read}), on=reader.on)
    return ExerciseHistory(
        client_id=client.id,
        client_name=client.name,
        exercise_id=exercise.pk,
        name=read.name,
        row=rows[0] if rows else None,
        proposal=proposal([one.entry for one in counted], level=read.level),
        decided=last if not counted else None,
        onward=onward_of([exercise.pk]).get(exercise.pk, Onward(easier=read.usual_regression)),
        lessons=_lessons(client.id, exercise.pk, felts),
        grants=_grants(client.id, exercise.pk, reasons),
        decisions=_decisions(client.id, exercise.pk),
        may_grant=is_senior(reader.teaches.get(read.apparatus, 0), read.level),
    )


def _lessons(client_id: UUID, exercise_id: str, felts: Mapping[UUID, Felt]) -> tuple[LessonLine, ...]:
    rows = models.LogLine.objects.filter(log__program__client_id=client_id, program_line__exercise_id=exercise_id)
    rows = rows.select_related("program_line", "log__kept_by", "log__place__lesson__studio")
    return tuple(
        LessonLine(
            id=row.pk,
            line_id=row.program_line_id,
            place_id=row.log.place_id,
            on=zones.local_day(row.log.place.during.lower, ZoneInfo(row.log.place.lesson.studio.time_zone)),
            taught_by=row.log.kept_by.name,
            decision=Decision(row.program_line.decision),
            springs=row.spring_set,
            reps=row.reps,
            mark=Mark(row.mark),
            score=row.score,
            felt=felts.get(row.pk, Felt()).words,
            is_finished=row.log.finished_at is not None,
        )
        for row in rows.order_by("-log__place__during", "program_line__position")
    )


def _grants(client_id: UUID, exercise_id: str, reasons: Mapping[UUID, str]) -> tuple[GrantLine, ...]:
    zone = studio_queries.house_zone()
    rows = models.Grant.objects.filter(client_id=client_id, exercise_id=exercise_id).select_related("by")
    return tuple(
        GrantLine(
            row.pk,
            row.owned,
            reasons.get(row.pk, ""),
            _who(row.by),
            zones.local_day(row.at, zone),
            row.taken_back_at is not None,
        )
        for row in rows.order_by("-at")
    )


def _decisions(client_id: UUID, exercise_id: str) -> tuple[DecisionLine, ...]:
    zone = studio_queries.house_zone()
    rows = models.StepDecision.objects.filter(client_id=client_id, exercise_id=exercise_id).select_related("by")
    return tuple(
        DecisionLine(
            row.pk,
            Step(row.proposed),
            Step(row.decided),
            _who(row.by),
            zones.local_day(row.at, zone),
            row.taken_back_at is not None,
        )
        for row in rows.order_by("-at")
    )


def _who(person: object) -> str:
    return str(getattr(person, "name", ""))


def client_of_grant(grant_id: UUID) -> tuple[UUID, str]:
    """The client and the exercise of a grant. Raises Grant.DoesNotExist."""
    return models.Grant.objects.values_list("client_id", "exercise_id").get(pk=grant_id)


def client_of_decision(decision_id: UUID) -> tuple[UUID, str]:
    """The client and the exercise of a decision. Raises StepDecision.DoesNotExist."""
    return models.StepDecision.objects.values_list("client_id", "exercise_id").get(pk=decision_id)
