"""What each person of a group may do at each shared line, from her own fit and from what the others do."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

from programming.rules.fitting import FittedLine, FittedProgram
from programming.rules.groups.parts import Option
from programming.rules.lines import PlannedLine
from programming.rules.marks import Decision
from programming.rules.repertoire import ExerciseRow
from programming.rules.shared import items_of
from programming.rules.substitution import lost_purposes, nearness
from studio.rules import ApparatusKind

# Of the exercises that may stand in, so many are tried beside those that somebody's own fit has chosen.
STAND_INS_TRIED = 4
AS_NEAR_AS_AIM = 3


@dataclass(frozen=True)
class Person:
    """One person: `fit` fits any lines to her body, machine and level; `kind` is her machine's, hers alone.

    `barred` are exercises she does not do in a group, whatever her fit says.
    """

    fit: Callable[[Sequence[PlannedLine]], FittedProgram]
    kind: ApparatusKind
    barred: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Offer:
    """An option with the line it stands for, as it would be written into her program."""

    option: Option
    line: FittedLine


Offers = tuple[tuple[tuple[Offer, ...], ...], ...]


def options_of(offers: Offers) -> list[list[list[Option]]]:
    """The same for the plan: options by line and person."""
    return [[[offer.option for offer in person] for person in line] for line in offers]


def offers(
    planned: Sequence[PlannedLine],
    people: Sequence[Person],
    repertoire: Mapping[str, ExerciseRow],
    *,
    shared: Collection[str] = (),
    one_voice: bool = False,
) -> Offers:
    """Offers by line and person, the one of her own fit first; empty where she can only leave the line out.

    Whoever may do a line as planned does so, unless `one_voice` lets her join the easier form of the others. Whoever
    may not keep the exercise may take any stand-in that another one's fit has chosen here, or one of the nearest, as
    long as her own fit lets her and she does not do it elsewhere. `shared` are the kinds of items that are counted.
    """
    return _Table(planned, people, repertoire, frozenset(shared), one_voice).offers()


class _Table:
    """What has been found out so far: each person's own fit, stand-ins tried, and those she has somewhere already."""

    def __init__(
        self,
        planned: Sequence[PlannedLine],
        people: Sequence[Person],
        repertoire: Mapping[str, ExerciseRow],
        shared: frozenset[str],
        one_voice: bool,
    ) -> None:
        self._planned, self._people, self._repertoire = planned, people, repertoire
        self._shared, self._one_voice = shared, one_voice
        self._own = [person.fit(planned).lines for person in people]
        self._in_plan = {line.exercise_id for line in planned}
        self._has = [{line.exercise_id for line in own if line.decision is Decision.SWAPPED} for own in self._own]
        self._tried: dict[tuple[int, str], FittedLine | None] = {}

    def offers(self) -> Offers:
        return tuple(
            tuple(self._of(place, person) for person in range(len(self._people))) for place in range(len(self._planned))
        )

    def _of(self, place: int, person: int) -> tuple[Offer, ...]:
        """Her own line first; then other forms of the exercise, or other stand-ins."""
        plan, own = self._planned[place], self._own[person][place]
        found = [own] if own.exercise_id else []
        if own.exercise_id == plan.exercise_id:
            found += self._other_forms(plan, own, person)
        else:
            found += self._other_stand_ins(place, person)
        told: dict[str, Offer] = {}
        for line in found:
            if line.exercise_id in self._people[person].barred:
                continue
            told.setdefault(_form(line), Offer(self._option(plan, line, person), line))
        return tuple(told.values())

    def _other_forms(self, plan: PlannedLine, own: FittedLine, person: int) -> list[FittedLine]:
        if own.decision is Decision.AS_PLANNED and not self._one_voice:
            return []
        asked = [replace(plan, adapted=adapted) for adapted in (not plan.adapted, plan.adapted)]
        fits = [self._people[person].fit([one]).lines[0] for one in asked]
        return [
            replace(
                fit, reps=own.reps, springs=own.springs, spring_error=own.spring_error, decision=Decision.ADAPTED
            )
            for fit in fits
            if fit.exercise_id == plan.exercise_id and _form(fit) != _form(own)
        ]  # fmt: skip

    def _other_stand_ins(self, place: int, person: int) -> list[FittedLine]:
        plan, own = self._planned[place], self._own[person][place]
        row = self._repertoire[plan.exercise_id]
        found = []
        for stand_in in self._worth_trying(place):
            taken = stand_in in self._has[person] and stand_in != own.exercise_id
            line = None if taken or stand_in == own.exercise_id else self._alone(person, stand_in)
            if line is not None:
                self._has[person].add(stand_in)
                found.append(_in_place_of(row, self._repertoire[stand_in], line, plan, own))
        return found

    def _worth_trying(self, place: int) -> list[str]:
        """What the fits of all who cannot keep the exercise have chosen, then the nearest; none when they agree."""
        plan = self._planned[place]
        own = [lines[place].exercise_id for lines in self._own]
        out = [key for key in own if key != plan.exercise_id]
        if len(set(out)) <= 1 and None not in out:
            return []
        chosen = [key for key in out if key]
        row = self._repertoire[plan.exercise_id]
        near = [(nearness(row, other), other) for other in self._repertoire.values() if other.id not in self._in_plan]
        rest = sorted((how, abs(other.level - row.level), other.id) for how, other in near if how is not None)
        return list(dict.fromkeys([*chosen, *(key for _, _, key in rest[:STAND_INS_TRIED])]))

    def _alone(self, person: int, exercise_id: str) -> FittedLine | None:
        """The exercise as her fit does it on its own; None when it does not let her."""
        key = (person, exercise_id)
        if key not in self._tried:
            line = self._people[person].fit([PlannedLine(exercise_id, exercise_id)]).lines[0]
            self._tried[key] = line if line.exercise_id == exercise_id else None
        return self._tried[key]

    def _option(self, plan: PlannedLine, line: FittedLine, person: int) -> Option:
        row = self._repertoire[line.exercise_id or plan.exercise_id]
        setup = {**row.setup, **plan.setup} if row.id == plan.exercise_id else row.setup
        near = nearness(self._repertoire[plan.exercise_id], row) if row.id != plan.exercise_id else 0
        return Option(
            form=_form(line),
            supervision=row.supervision,
            items=frozenset(self._shared & items_of(setup, row.apparatus, self._people[person].kind)),
            changed=int(line.decision is not Decision.AS_PLANNED),
            nearness=AS_NEAR_AS_AIM if near is None else int(near),
            deciseconds=ceil(line.seconds * 10 - 1e-6),
        )


def _form(line: FittedLine) -> str:
    """What has to be said: the exercise and the words of its changed form."""
    return f"{line.exercise_id}|{line.form}"


def _in_place_of(
    row: ExerciseRow, stand_in: ExerciseRow, line: FittedLine, plan: PlannedLine, own: FittedLine
) -> FittedLine:
    return replace(
        line,
        planned_id=plan.planned_id,
        planned_exercise_id=row.id,
        decision=Decision.SWAPPED,
        why=(*(why for why in own.why if why.exercise_id == row.id), *line.why),
        lost_purposes=lost_purposes(row, stand_in),
    )


def left_out(own: FittedLine, row: ExerciseRow, *, note: str = "") -> FittedLine:
    """Her line when it is left out: why her own fit could not keep it, or the note of what else decided."""
    why = tuple(one for one in own.why if one.exercise_id == row.id) if own.exercise_id != row.id else ()
    return replace(
        own,
        exercise_id=None,
        decision=Decision.LEFT_OUT,
        why=why,
        form="",
        lost_purposes=lost_purposes(row, None),
        demands=frozenset(),
        springs=None,
        spring_error=0,
        reps=0,
        seconds=0.0,
        is_new=False,
        steps=(),
        setup=(),
        notes=(note,) if note and not why else (),
    )
