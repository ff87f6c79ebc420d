"""A program that is not any more as it was fitted for: the difference line by line, accepted line by line."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clients.models import Client
from programming import models
from programming.actions import facts as fact_actions
from programming.actions import fits, fitted, programs
from programming.queries import machines as machine_queries
from programming.queries import programs as program_queries
from programming.queries.fits import Fit, LineFit, aim_words
from programming.rules import by_hand
from programming.rules import differences as rules
from programming.rules.by_hand import Chosen
from programming.rules.marks import Decision
from programming.rules.timing import Pace
from studio.models import Person
from studio.rules import Reason, Refused


@dataclass(frozen=True)
class Side:
    """One line as it is or would be, in words."""

    name: str
    form: str
    decision: Decision

    @property
    def is_out(self) -> bool:
        return self.decision is Decision.LEFT_OUT


@dataclass(frozen=True)
class DifferenceView:
    """One line that differs. `why_not` says why the old one may not stay, `lost` which aims the new one leaves open."""

    position: int
    planned: str
    before: Side
    after: Side
    why_not: str
    lost: tuple[str, ...]
    is_by_hand: bool


@dataclass(frozen=True)
class Comparison:
    """A program beside a new fit of it. `stale` says what has changed; `springs` counts lines whose springs change.

    The springs are those of the machine of the lesson, whatever is accepted.
    """

    view: program_queries.ProgramView
    stale: tuple[str, ...]
    lines: tuple[DifferenceView, ...]
    springs: int
    lost_aims: tuple[str, ...]
    blocks_most: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class _Compared:
    """Both fits of one program as choices."""

    program: models.Program
    fresh: models.Program
    fit: Fit
    new_fit: Fit
    stale: tuple[str, ...]
    hand: by_hand.Facts
    before: Sequence[Chosen]
    after: Sequence[Chosen]
    found: tuple[rules.Difference, ...]


def compare_program(program_id: UUID, *, by: Person, now: datetime, why: str = "") -> Comparison:
    """What fitting anew would change. Raises Refused for a program that was replaced, and as opening it does."""
    one = _compared(program_queries.loaded(program_id), by=by, now=now, why=why)
    kept = by_hand.composed(one.before, one.hand)
    springs = [line.springs.letters if line.springs else "" for line in kept]
    was = [line.spring_set for line in sorted(one.program.lines.all(), key=lambda line: line.position)]
    return Comparison(
        view=program_queries.view(one.program, one.fit),
        stale=one.stale,
        lines=tuple(_in_words(difference) for difference in one.found),
        springs=sum(now_set != then for now_set, then in zip(springs, was, strict=True)),
        lost_aims=aim_words(one.new_fit.lost_aims),
        blocks_most=program_queries.view(
            one.program, replace(one.fit, blocks_most=one.new_fit.blocks_most)
        ).blocks_most,
    )


def accept_differences(
    program_id: UUID, *, accepted: Collection[int], revision: int, by: Person, now: datetime, why: str = ""
) -> models.Program:
    """The program with the new line where it was accepted, or where the old one may not stay, and the old one else.

    It takes the place of the program before, which stays as it was. Nothing left to change: the same program. Raises
    Refused `changed_meanwhile`, for a program that was replaced or is being taught, and as opening it does.
    """
    with transaction.atomic():
        client_id = program_queries.client_of(program_id)
        Client.objects.select_for_update(of=("self",), no_key=True).get(pk=client_id)
        row = program_queries.loaded(program_id)
        programs.check_stands(row)
        programs.check_not_begun(row)
        if row.revision != revision:
            says = "Somebody else changed this program meanwhile; nothing of it is lost."
            raise Refused(Reason("changed_meanwhile", says, "revision", "look at the differences once more"))
        one = _compared(row, by=by, now=now, why=why)
        if not one.found and not one.stale:
            return row
        _keep(one, rules.mixed(one.before, one.after, one.found, accepted), by, now)
    return one.fresh


def _compared(row: models.Program, *, by: Person, now: datetime, why: str) -> _Compared:
    programs.check_stands(row)
    apparatus_id, minutes = programs.meant_for(row)
    machine = machine_queries.machine(apparatus_id)
    facts = fact_actions.gathered(row.client_id, day=programs.day_of(row.place_id), by=by, now=now, why=why)
    fit = fits.opened(row)
    fresh = models.Program(
        client=row.client, template=row.template, place_id=row.place_id, apparatus_id=apparatus_id, minutes=minutes,
        pace=row.pace, group_plan_id=row.group_plan_id, made_by=by, made_at=now,
    )  # fmt: skip
    lines, new_fit = fitted.fit_program(fresh, facts, machine)
    hand = fitted.hand_facts(facts, machine, Pace(row.pace))
    before, after = fitted.as_chosen(row, fit, hand), _chosen(row, lines, new_fit, hand)
    at = {position for position, line in fit.lines.items() if line.by_hand}
    found = rules.differences(before, after, hand, by_hand_at=at)
    stale = tuple(fitted.differs(row, fit, facts, machine, minutes))
    return _Compared(row, fresh, fit, new_fit, stale, hand, before, after, found)


def _chosen(row: models.Program, lines: Sequence[models.ProgramLine], fit: Fit, hand: by_hand.Facts) -> list[Chosen]:
    """The new fit as choices."""
    known = hand.given.repertoire
    plans = {one.planned_id: one for one in fitted.resolved_lines(row, hand)}
    return [
        by_hand.as_it_stands(
            plans[str(line.position)],
            known[line.exercise_id] if line.exercise_id else None,
            demands=fit.of(line.position).demands,
            steps=fit.of(line.position).steps,
            reps=None,
            facts=hand,
        )
        for line in lines
    ]


def _keep(one: _Compared, lines: Sequence[Chosen], by: Person, now: datetime) -> None:
    composed = by_hand.composed(lines, one.hand)
    kept = {
        position: _line_fit(position, chosen, one, fits.line_fit(line))
        for position, (chosen, line) in enumerate(zip(lines, composed, strict=True), 1)
    }
    aims = {aim for chosen in lines for aim in chosen.planned.row.purpose}
    served = {aim for chosen in lines if chosen.line for aim in chosen.line.row.purpose}
    none_left = not any(chosen.line for chosen in lines)
    fit = replace(
        one.new_fit,
        lines=kept,
        lost_aims=tuple(sorted(aims - served)),
        blocks_most=one.new_fit.blocks_most if none_left else (),
    )
    programs.keep(one.fresh, fitted.rows_of(one.fresh, composed), fit, by=by, now=now)


def _line_fit(position: int, chosen: Chosen, one: _Compared, fresh: LineFit) -> LineFit:
    """A new line in the words of its fit; an old one says still by whose hand it was chosen."""
    if chosen.key == one.after[position - 1].key:
        return one.new_fit.of(position)
    return replace(fresh, by_hand=one.fit.of(position).by_hand)


def _in_words(one: rules.Difference) -> DifferenceView:
    return DifferenceView(
        position=one.position,
        planned=one.before.planned.row.name,
        before=_side(one.before),
        after=_side(one.after),
        why_not=one.why_not,
        lost=aim_words(one.after.lost),
        is_by_hand=one.is_by_hand,
    )


def _side(one: Chosen) -> Side:
    name = one.line.row.name if one.line else one.planned.row.name
    return Side(name, one.form.words if one.form else "", one.decision)
