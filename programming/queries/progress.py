"""Where a client stands with each exercise, what the log proposes, what was decided, and how far each level is."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from uuid import UUID

from clients import queries as client_queries
from clients.models import LevelCeiling
from programming import models
from programming.queries import decisions as decision_queries
from programming.queries import histories as history_queries
from programming.queries import repertoire
from programming.queries.decisions import Decided
from programming.queries.histories import MarkedLine, Practice
from programming.rules import levels as level_rules
from programming.rules.absence import Return
from programming.rules.felt import Felt
from programming.rules.levels import LevelCheck
from programming.rules.marks import Standing
from programming.rules.progress import Entry, Granted, Proposal, Step, proposal, standing
from programming.rules.repertoire import ExerciseRow
from programming.rules.validation.people import UNSIGNED_LEVEL
from studio.rules import ApparatusKind

# More harder forms than these are not looked at in one glance.
MOST_HARDER = 3


@dataclass(frozen=True)
class Onward:
    """What each step would be, in the words of the ladder; empty where an exercise has none."""

    harder: tuple[str, ...] = ()
    easier: str = ""
    advance_by: str = ""
    repeat_while: str = ""

    def words(self, step: Step) -> str:
        """What comes next when a teacher decides so."""
        if step is Step.STEP_BACK:
            return self.easier
        return self.repeat_while if step is Step.REPEAT else "; or ".join(self.harder) or self.advance_by


@dataclass(frozen=True)
class StandRow:
    """Where she stands with one exercise today. `last_score` is the last one given in its own form."""

    exercise_id: str
    name: str
    kind: ApparatusKind
    series: str
    level: int
    standing: Standing
    introduced_on: date
    last_on: date
    times: int
    last_score: int | None


@dataclass(frozen=True)
class OpenStep:
    """An exercise whose proposal waits for a teacher."""

    row: StandRow
    proposal: Proposal
    onward: Onward

    @property
    def next_words(self) -> str:
        return self.onward.words(self.proposal.step)


@dataclass(frozen=True)
class DecidedStep:
    """An exercise that was decided and not practised since."""

    row: StandRow
    decided: Decided
    onward: Onward

    @property
    def next_words(self) -> str:
        return self.onward.words(self.decided.decided)


@dataclass(frozen=True)
class LevelRow:
    """One kind of apparatus: the level signed (or the one that counts unsigned), and how far the next one is."""

    check: LevelCheck
    signed_by: str
    signed_on: date | None
    missing: tuple[str, ...]
    teaches: int

    @property
    def may_sign(self) -> bool:
        return self.teaches > 0


@dataclass(frozen=True)
class StandGroup:
    kind: ApparatusKind
    rows: tuple[StandRow, ...]


@dataclass(frozen=True)
class Facts:
    """All that a client's progress is worked out from; what was felt is still sealed."""

    lines: tuple[MarkedLine, ...]
    granted: Mapping[str, Sequence[Granted]]
    decided: Mapping[str, Decided]
    rows: Mapping[str, ExerciseRow]

    @property
    def felt_lines(self) -> list[UUID]:
        return [line.id for line in self.lines if line.is_felt]

    @property
    def days(self) -> list[date]:
        """The days of her lessons."""
        return sorted({line.on for line in self.lines})


@dataclass(frozen=True)
class ProgressView:
    """A client's progress on one page. `back` is what rule 15 still asks after `since` lessons back."""

    client_id: UUID
    name: str
    on: date
    lessons: int
    back: Return
    since: int
    waiting: tuple[OpenStep, ...]
    going_on: tuple[OpenStep, ...]
    decided: tuple[DecidedStep, ...]
    levels: tuple[LevelRow, ...]
    groups: tuple[StandGroup, ...]

    def level_of(self, kind: ApparatusKind) -> LevelRow:
        """How far the next level is on a kind of apparatus; Raises LevelCeiling.DoesNotExist where she never was."""
        for row in self.levels:
            if row.check.kind is kind:
                return row
        raise LevelCeiling.DoesNotExist(f"nothing on the {kind.value}")

    @property
    def counts(self) -> tuple[tuple[str, int], ...]:
        """How many exercises stand where; never a share of the repertoire."""
        rows = [row for group in self.groups for row in group.rows]
        return tuple((word.value, sum(row.standing is word for row in rows)) for word in Standing)


@dataclass(frozen=True)
class Reader:
    """Who looks, and what of the client bounds what counts: the demands to be avoided."""

    on: date
    avoided: frozenset[str]
    teaches: Mapping[ApparatusKind, int]


def facts(client_id: UUID) -> Facts:
    """Five queries, however long she has been coming."""
    lines = tuple(history_queries.marked_lines(client_id))
    granted = history_queries.grants(client_id)
    ids = {line.exercise_id for line in lines} | set(granted)
    return Facts(lines, granted, decision_queries.last_decisions(client_id), repertoire.known_exercises(ids))


def view(client: client_queries.ClientCard, found: Facts, felts: Mapping[UUID, Felt], reader: Reader) -> ProgressView:
    """The page of a client, what was felt opened as far as `felts` goes; a fixed number of queries."""
    practices = history_queries.practices(found.lines, felts)
    rows = {row.exercise_id: row for row in stand_rows(practices, found, on=reader.on)}
    onward = onward_of(rows)
    waiting = _open_steps(rows, practices, found.decided, onward)
    intervals = client_queries.rules_in_force().rulebook.intervals if client_queries.has_rules() else {}
    asked = [{"item": key, "days": str(one.days)} for key, one in intervals.items()]
    back, since = level_rules.coming_back(found.days, reader.on, asked) if asked and found.days else (Return(), 0)
    return ProgressView(
        client_id=client.id,
        name=client.name,
        on=reader.on,
        lessons=len({line.log_id for line in found.lines}),
        back=back,
        since=since,
        waiting=tuple(one for one in waiting if one.proposal.step is not Step.REPEAT),
        going_on=tuple(one for one in waiting if one.proposal.step is Step.REPEAT),
        decided=_decided(rows, practices, found.decided, onward),
        levels=_levels(client.id, practices, reader),
        groups=_groups(rows.values()),
    )


def stand_rows(practices: Mapping[str, Sequence[Practice]], found: Facts, *, on: date) -> list[StandRow]:
    """Every exercise practised or granted, in the order of the repertoire."""
    made = []
    for row in sorted(found.rows.values(), key=lambda row: (row.apparatus.value, row.order_in_apparatus, row.id)):
        entries = [one.entry for one in practices.get(row.id, ())]
        granted = found.granted.get(row.id, ())
        if stands := standing(entries, on=on, granted=granted):
            made.append(_stand_row(row, stands, [one for one in entries if one.is_practised], granted))
    return made


def _stand_row(row: ExerciseRow, stands: Standing, practised: Sequence[Entry], granted: Sequence[Granted]) -> StandRow:
    days = [entry.on for entry in practised] + [word.on for word in granted]
    scores = [entry.score for entry in practised if entry.shows_the_exercise]
    return StandRow(
        exercise_id=row.id,
        name=row.name,
        kind=row.apparatus,
        series=row.series,
        level=row.level,
        standing=stands,
        introduced_on=min(days),
        last_on=max(days),
        times=len(practised),
        last_score=scores[-1] if scores else None,
    )


def _open_steps(
    rows: Mapping[str, StandRow],
    practices: Mapping[str, Sequence[Practice]],
    decided: Mapping[str, Decided],
    onward: Mapping[str, Onward],
) -> list[OpenStep]:
    found = []
    for key, row in rows.items():
        counted = decision_queries.counted(practices.get(key, ()), decided.get(key))
        proposed = proposal([one.entry for one in counted], level=row.level)
        if proposed:
            found.append(OpenStep(row, proposed, onward.get(key, Onward())))
    return found


def _decided(
    rows: Mapping[str, StandRow],
    practices: Mapping[str, Sequence[Practice]],
    decided: Mapping[str, Decided],
    onward: Mapping[str, Onward],
) -> tuple[DecidedStep, ...]:
    standing_still = [
        DecidedStep(rows[key], last, onward.get(key, Onward()))
        for key, last in decided.items()
        if key in rows and not decision_queries.is_open(practices.get(key, ()), last)
    ]
    return tuple(sorted(standing_still, key=lambda one: one.decided.at, reverse=True))


def _levels(client_id: UUID, practices: Mapping[str, Sequence[Practice]], reader: Reader) -> tuple[LevelRow, ...]:
    signed = {
        ApparatusKind(row.apparatus_kind): row
        for row in LevelCeiling.objects.filter(client_id=client_id).select_related("signed_by")
    }
    rows = repertoire.exercises()
    scores = history_queries.last_scores({key: [one.entry for one in found] for key, found in practices.items()})
    kinds = {rows[key].apparatus for key in practices if key in rows} | set(signed) | set(reader.teaches)
    found = []
    for kind in (one for one in ApparatusKind if one in kinds):
        row = signed.get(kind)
        level = row.level if row else UNSIGNED_LEVEL
        check = level_rules.check(kind, level, rows.values(), scores, avoided=reader.avoided)
        missing = tuple(rows[key].name for key in check.missing)
        by, on = (row.signed_by.name, row.signed_on) if row else ("", None)
        found.append(LevelRow(check, by, on, missing, reader.teaches.get(kind, 0)))
    return tuple(found)


def _groups(rows: Collection[StandRow]) -> tuple[StandGroup, ...]:
    return tuple(StandGroup(kind, tuple(found)) for kind, found in groupby(rows, key=lambda row: row.kind))


def onward_of(ids: Collection[str]) -> dict[str, Onward]:
    """What comes after each exercise by its ladder; two queries. An easier form that is another row is left out."""
    gates = {row["ladder"]: row for row in repertoire.table("ladder_gates")}
    steps = models.LadderStep.objects.filter(
        exercises__in=set(ids), kind__in=("progression", "regression"), retired_at=None
    )
    found: dict[str, dict[str, list[str]]] = {}
    ladder_of: dict[str, str] = {}
    for key, ladder, kind, row in steps.order_by("position").values_list("exercises__id", "ladder", "kind", "row"):
        ladder_of.setdefault(key, ladder)
        if kind == "progression" or not row["substitutes_row"]:
            found.setdefault(key, {}).setdefault(kind, []).append(row["change"])
    return {
        key: Onward(
            harder=tuple(found.get(key, {}).get("progression", ())[:MOST_HARDER]),
            easier=next(iter(found.get(key, {}).get("regression", ())), ""),
            advance_by=gates.get(ladder, {}).get("advance_by", ""),
            repeat_while=gates.get(ladder, {}).get("repeat_while", ""),
        )
        for key, ladder in ladder_of.items()
    }


@dataclass(frozen=True)
class DecidedWords:
    """What was decided of an exercise for its next lesson, in words for the brief and the run sheet."""

    exercise_id: str
    name: str
    step: Step
    next_words: str
    by: str


def decided_words(client_id: UUID, *, ids: Collection[str] | None = None) -> list[DecidedWords]:
    """The decisions that stand, of all exercises or of these; at most five queries, one where there are none."""
    decided = decision_queries.standing_decisions(client_id)
    wanted = [key for key in decided if ids is None or key in ids]
    if not wanted:
        return []
    onward, rows = onward_of(wanted), repertoire.known_exercises(wanted)
    return [
        DecidedWords(
            key,
            rows[key].name,
            decided[key].decided,
            onward.get(key, Onward()).words(decided[key].decided),
            decided[key].by,
        )
        for key in wanted
    ]
