"""A teacher changes one line of a program by hand: another allowed choice, another count, left out or put back."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients.models import Client
from programming import models
from programming.actions import facts as fact_actions
from programming.actions import fits, fitted, holds, programs
from programming.queries import machines as machine_queries
from programming.queries import programs as program_queries
from programming.queries.fits import Fit, LineFit, aim_words
from programming.rules import by_hand
from programming.rules.by_hand import Chosen
from programming.rules.fitting import FittedLine
from programming.rules.marks import Decision
from programming.rules.substitution import nearness
from programming.rules.timing import Fit as Share
from programming.rules.timing import Pace, Slot, Times
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused

NEAR_WORDS = {1: "same family", 2: "same aim and position", 3: "same aim"}


@dataclass(frozen=True)
class ChoiceView:
    """One choice in words. `near` says how it is related to the planned line, empty for a form of its own."""

    key: str
    name: str
    form: str
    decision: Decision
    near: str
    lost: tuple[str, ...]
    is_now: bool


@dataclass(frozen=True)
class OpenLine:
    """A line with what may be done for it, and the count it has now (0 where it is left out)."""

    view: program_queries.ProgramView
    line: program_queries.ProgramLine
    choices: tuple[ChoiceView, ...]
    reps: int

    @property
    def may_stay(self) -> bool:
        """Whether the line may be done as it stands."""
        return any(one.is_now for one in self.choices)


def open_line(program_id: UUID, line_id: UUID, *, by: Person, now: datetime, why: str = "") -> OpenLine:
    """What may be done for a line of a program. Raises ProgramLine.DoesNotExist, and Refused as opening it does."""
    row = program_queries.loaded(program_id)
    stored = row.lines.get(pk=line_id)
    facts = _hand_facts(row, by=by, now=now, why=why)
    fit = fits.opened(row)
    chosen = fitted.as_chosen(row, fit, facts)
    at = _place_of(chosen, stored.position)
    found = by_hand.choices(chosen[at].planned, chosen, facts)
    view = program_queries.view(row, fit)
    line = next(one for one in view.lines if one.id == stored.pk)
    shown = tuple(_in_words(one, is_now=one.key == chosen[at].key) for one in found)
    return OpenLine(view, line, shown, stored.reps)


def change_line(
    program_id: UUID,
    line_id: UUID,
    *,
    choice: str,
    revision: int,
    by: Person,
    now: datetime,
    reps: int | None = None,
    why: str = "",
) -> models.Program:
    """Do this line as chosen (a key of `open_line`), with this count if one is given; the rest is made whole around it.

    `revision` is the program's as the teacher saw it. Chosen already: nothing changes. Raises Refused
    `changed_meanwhile` when somebody else was there in between, `not_allowed`, `reps`, `too_long`, for a program that
    was replaced or is being taught, and as opening it does.
    """
    with transaction.atomic():
        row = _locked(program_id)
        facts = _hand_facts(row, by=by, now=now, why=why)
        _check(row, revision, reps)
        stored, fit = row.lines.get(pk=line_id), fits.opened(row)
        before = fitted.as_chosen(row, fit, facts)
        at = _place_of(before, stored.position)
        wanted = _wanted(before, at, choice, reps, facts)
        if wanted.key != before[at].key or wanted.reps not in (None, stored.reps):
            after = [*before[:at], wanted, *before[at + 1 :]]
            _write(row, fit, before, after, facts, by, now)
            audit.wrote("change_line", stored, by=by, now=now, client_key=row.client_id)
    return row


def _locked(program_id: UUID) -> models.Program:
    """The program, its client's row held first, as everywhere."""
    client_id = program_queries.client_of(program_id)
    Client.objects.select_for_update(of=("self",), no_key=True).get(pk=client_id)
    return program_queries.loaded(program_id)


def _hand_facts(row: models.Program, *, by: Person, now: datetime, why: str) -> by_hand.Facts:
    facts = fact_actions.gathered(row.client_id, day=programs.day_of(row.place_id), by=by, now=now, why=why)
    return fitted.hand_facts(facts, machine_queries.machine(row.apparatus_id), Pace(row.pace))


def _check(row: models.Program, revision: int, reps: int | None) -> None:
    programs.check_stands(row)
    programs.check_not_begun(row)
    if row.revision != revision:
        says = "Somebody else changed this program meanwhile. It stands below as it is now; nothing of it is lost."
        raise Refused(Reason("changed_meanwhile", says, "revision", "look once more, then choose again"))
    if reps is not None and not 1 <= reps <= by_hand.MOST_REPS:
        raise Refused(Reason("reps", f"Between 1 and {by_hand.MOST_REPS} repetitions.", "reps", "1 to 60"))


def _wanted(before: Sequence[Chosen], at: int, choice: str, reps: int | None, facts: by_hand.Facts) -> Chosen:
    found = by_hand.choices(before[at].planned, before, facts)
    wanted = next((one for one in found if one.key == choice), None)
    if wanted is None:
        says = "That may not be done here now."
        raise Refused(Reason("not_allowed", says, "choice", "one of the choices shown"))
    if wanted.line is None or reps is None or reps == int(wanted.line.reps):
        return wanted
    return replace(wanted, reps=reps)


def _write(
    row: models.Program,
    fit: Fit,
    before: Sequence[Chosen],
    after: Sequence[Chosen],
    facts: by_hand.Facts,
    by: Person,
    now: datetime,
) -> None:
    lines = by_hand.composed(after, facts)
    _check_time(row, lines, facts.given.times)
    kept = {
        position: _kept(fit.of(position), was, now_chosen, fits.line_fit(line), by)
        for position, (was, now_chosen, line) in enumerate(zip(before, after, lines, strict=True), 1)
    }
    rows = fitted.rows_of(row, lines)
    for stored, fresh in zip(row.lines.order_by("position"), rows, strict=True):
        fresh.pk, fresh.planned_version = stored.pk, stored.planned_version
        # The line that nobody touched is still the exercise as it read when it was fitted.
        fresh.exercise_version = (
            stored.exercise_version if fresh.exercise_id == stored.exercise_id else fresh.exercise_version
        )
        fresh.save(force_update=True)
    holds.hold_for(row, rows, by=by, now=now)
    aims = {aim for one in after for aim in one.planned.row.purpose}
    served = {aim for one in after if one.line for aim in one.line.row.purpose}
    row.sealed_fit = fits.sealed(row, replace(fit, lines=kept, lost_aims=tuple(sorted(aims - served)), blocks_most=()))
    row.revision += 1
    row.save(update_fields=["sealed_fit", "revision"])


def _check_time(row: models.Program, lines: Sequence[FittedLine], times: Times) -> None:
    seconds = times.arrival + sum(line.seconds for line in lines) + times.close
    if Slot(row.minutes * 60).check(seconds, times) is Share.BLOCK:
        says = f"The lesson would last {seconds / 60:.0f} minutes, and it has {row.minutes}."
        raise Refused(Reason("too_long", says, "choice", "leave something else out first"))


def _kept(was: LineFit, before: Chosen, after: Chosen, fresh: LineFit, by: Person) -> LineFit:
    """A line that nobody touched keeps its words; the one that was chosen says by whom."""
    if (before.key, before.reps) == (after.key, after.reps):
        return was
    return replace(fresh, by_hand=by.name)


def _place_of(chosen: Sequence[Chosen], position: int) -> int:
    return next(at for at, one in enumerate(chosen) if one.planned.planned_id == str(position))


def _in_words(one: Chosen, *, is_now: bool) -> ChoiceView:
    near = nearness(one.planned.row, one.line.row) if one.line and one.decision is Decision.SWAPPED else None
    return ChoiceView(
        key=one.key,
        name=one.line.row.name if one.line else "Leave it out",
        form=one.form.words if one.form else "",
        decision=one.decision,
        near=NEAR_WORDS[near] if near else "",
        lost=aim_words(one.lost),
        is_now=is_now,
    )
