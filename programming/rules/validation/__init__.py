"""Rules V1 to V10: a template is judged by those that need no client, a program for one person by all of them."""

from collections.abc import Collection, Mapping, Sequence

from clients.rules.outcomes import Level
from programming.rules.exposure import Ceiling, Exposure, ceilings_from, exposure
from programming.rules.lines import Line
from programming.rules.repertoire import ExerciseRow
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace, Slot, Times
from programming.rules.validation.findings import Finding, Severity, blocks
from programming.rules.validation.people import (
    UNSIGNED_LEVEL,
    People,
    Stretch,
    Supervision,
    instructor_cleared,
    level_within,
    new_rows,
    people_and_room,
    screening_in_date,
    shared_once,
    stretches,
    supervision,
    supervision_of,
)
from programming.rules.validation.prerequisites import (
    cycle,
    is_deadlocked,
    missing_groups,
    prerequisites_owned,
    template_cycle,
)
from programming.rules.validation.templates import (
    exercises_whole,
    finish,
    fits_the_time,
    machine_state_safe,
    no_avoided_demand,
    opposition,
    pools_hold,
    ramp,
    sides_equal,
    springs_possible,
)

__all__ = [
    "UNSIGNED_LEVEL",
    "Ceiling",
    "Exposure",
    "Finding",
    "People",
    "Severity",
    "Stretch",
    "Supervision",
    "blocks",
    "ceilings_from",
    "cycle",
    "exercises_whole",
    "exposure",
    "exposure_within",
    "finish",
    "fits_the_time",
    "instructor_cleared",
    "is_deadlocked",
    "lesson_start",
    "level_within",
    "machine_state_safe",
    "missing_groups",
    "new_rows",
    "no_avoided_demand",
    "opposition",
    "people_and_room",
    "personal",
    "pools_hold",
    "prerequisites_owned",
    "ramp",
    "report",
    "screening_in_date",
    "shared_once",
    "sides_equal",
    "springs_possible",
    "stretches",
    "supervision",
    "supervision_of",
    "template_cycle",
]


def report(
    lines: Sequence[Line],
    repertoire: Mapping[str, ExerciseRow],
    times: Times,
    *,
    slot: Slot,
    pace: Pace = Pace.WORKING,
    inventory: SpringSet | None = None,
    avoided: Collection[str] = (),
    new: int = 0,
    fluent_owner: bool = False,
) -> list[Finding]:
    """Everything found in a template, rule by rule. Without an inventory V3 is left out: it has no machine yet.

    `avoided` are the client's avoided demands, empty for a template; `fluent_owner` lifts the ramp of rule 1. Of V1
    only a circle of prerequisites is said here, which no client could meet.
    """
    return [
        *template_cycle(lines, repertoire),
        *fits_the_time(lines, times, slot=slot, pace=pace, new=new),
        *(springs_possible(lines, inventory) if inventory is not None else []),
        *no_avoided_demand(lines, avoided),
        *([] if fluent_owner else ramp(lines, times, pace=pace)),
        *finish(lines),
        *machine_state_safe(lines),
        *exercises_whole(lines),
        *pools_hold(lines, repertoire),
        *opposition(lines),
        *sides_equal(lines),
    ]


def personal(
    lines: Sequence[Line],
    repertoire: Mapping[str, ExerciseRow],
    times: Times,
    *,
    slot: Slot,
    levels: Mapping[str, Level],
    owned: Collection[str],
    met: Collection[str] | None = None,
    waived: Collection[str] = (),
    ceilings: Sequence[Ceiling] = (),
    people: People | None = None,
    pace: Pace = Pace.WORKING,
    inventory: SpringSet | None = None,
    fluent_owner: bool = False,
) -> list[Finding]:
    """Everything found in a program for one client, V1 to V10 in this order.

    `lines` are the ones she does, in the form she does them in. `levels` are her limits by demand, `owned` and `met`
    her exercises (met None: nothing counts as new), `waived` the exercises whose V1 a teacher has set aside,
    `ceilings` those of exposure.
    """
    new = 0 if met is None else len({line.row.id for line in lines} - set(met))
    avoided = [demand for demand, level in levels.items() if level is Level.AVOID]
    unmet = prerequisites_owned(lines, repertoire, owned=owned, waived=waived, levels=levels)
    locked_out = {one.line for one in unmet}
    of_template = report(
        lines, repertoire, times, slot=slot, pace=pace, inventory=inventory, avoided=avoided, new=new,
        fluent_owner=fluent_owner,
    )  # fmt: skip
    found = [
        *unmet,
        # A circle of prerequisites stops nobody who owns the exercise or had it waived.
        *(one for one in of_template if one.rule != "V1" or one.line in locked_out),
        *exposure_within(lines, levels, ceilings),
        *(people_and_room(lines, people, met=met) if people else []),
    ]
    return sorted(found, key=lambda one: int(one.rule[1:]))


def lesson_start(
    lines: Sequence[Line],
    *,
    levels: Mapping[str, Level],
    ceilings: Sequence[Ceiling] = (),
    people: People | None = None,
    met: Collection[str] | None = None,
) -> list[Finding]:
    """V4, V5 and V10 again at the start of a lesson, because today's check-in may have added a limit."""
    avoided = [demand for demand, level in levels.items() if level is Level.AVOID]
    return [
        *no_avoided_demand(lines, avoided),
        *exposure_within(lines, levels, ceilings),
        *(people_and_room(lines, people, met=met) if people else []),
    ]


def exposure_within(lines: Sequence[Line], levels: Mapping[str, Level], ceilings: Sequence[Ceiling]) -> list[Finding]:
    """V5: summed seconds of each listed demand at most its ceiling."""
    return [Finding("V5", Severity.WARN, None, _over(one)) for one in exposure(lines, levels, ceilings) if one.is_over]


def _over(one: Exposure) -> str:
    span = "in one unbroken run" if one.ceiling.is_run else "in the lesson"
    words = one.demand.replace("_", " ")
    return f"{words}: {one.seconds:.0f} seconds {span}, where {one.ceiling.seconds:.0f} are the most"
