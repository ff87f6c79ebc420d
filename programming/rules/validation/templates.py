"""Rules that need no client (V2, V3, V4, V6, V7, V8, V9), one function each."""

import itertools
from collections.abc import Collection, Mapping, Sequence

from programming.rules.lines import Line, whole_exercises
from programming.rules.pools import whole_pools
from programming.rules.repertoire import ExerciseRow
from programming.rules.springs import SpringSet, translate
from programming.rules.timing import Fit, Pace, Slot, Times, line_seconds, program_seconds
from programming.rules.validation.findings import Finding, Severity
from studio.rules import ApparatusKind

WARM_LEVEL = 2
FLEXION_RUN = 3
FLEXION_FOR_EACH_EXTENSION = 4
UNFIT_ENDING = {
    "ext_end": "strong extension",
    "inversion": "the head below the heart",
    "hamstring_end": "a strong stretch of the back of the legs",
}


def fits_the_time(
    lines: Sequence[Line], times: Times, *, slot: Slot, pace: Pace = Pace.WORKING, new: int = 0
) -> list[Finding]:
    """V2."""
    seconds = program_seconds(lines, times, pace=pace, new=new)
    verdict = slot.check(seconds, times)
    if verdict is Fit.FITS:
        return []
    severity = Severity.BLOCK if verdict is Fit.BLOCK else Severity.WARN
    return [Finding("V2", severity, None, f"{seconds / 60:.1f} minutes for a slot of {slot.seconds / 60:.0f}")]


def springs_possible(lines: Sequence[Line], inventory: SpringSet) -> list[Finding]:
    """V3: a set within tolerance for each reformer row, and a step-down by removing springs only."""
    found: list[Finding] = []
    reformer = [line for line in lines if line.row.apparatus is ApparatusKind.REFORMER]
    for run in whole_exercises(reformer):
        if not inventory.count:
            found += [Finding("V3", Severity.BLOCK, line.planned_id, "this machine has no springs") for line in run]
            continue
        translated = translate([line.springs or 0 for line in run], inventory)
        for place in translated.impossible:
            says = f"no set of springs comes near; the nearest is {translated.sets[place].words}"
            found.append(Finding("V3", Severity.BLOCK, run[place].planned_id, says))
        if translated.forced:
            says = "the step-down cannot be made by unhooking alone on this machine"
            found.append(Finding("V3", Severity.WARN, run[0].planned_id, says))
    return found


def no_avoided_demand(lines: Sequence[Line], avoided: Collection[str]) -> list[Finding]:
    """V4: demands after the chosen variation share nothing with the ones to avoid."""
    return [
        Finding("V4", Severity.BLOCK, line.planned_id, f"{line.row.name} demands {demand}, which is to be avoided")
        for line in lines
        for demand in sorted(line.demands & set(avoided))
    ]


def ramp(lines: Sequence[Line], times: Times, *, pace: Pace = Pace.WORKING) -> list[Finding]:
    """V6, rule 1: nothing above level 2 and no intrinsic inversion in the first minutes of movement."""
    found: list[Finding] = []
    passed = 0.0
    for line in lines:
        if passed >= times.warm_first:
            break
        if line.row.level > WARM_LEVEL:
            found.append(
                Finding("V6", Severity.WARN, line.planned_id, f"level {line.row.level} before the body is warm")
            )
        if "inversion" in line.row.demands - line.row.removable:
            found.append(Finding("V6", Severity.WARN, line.planned_id, "head below the heart before the body is warm"))
        passed += line_seconds(line, times, pace=pace)
    return found


def finish(lines: Sequence[Line]) -> list[Finding]:
    """V6, rule 7: a quiet ending, and a rest between an inversion and standing up."""
    found: list[Finding] = []
    if lines:
        strong = sorted(lines[-1].demands & UNFIT_ENDING.keys())
        found += [
            Finding("V6", Severity.WARN, lines[-1].planned_id, f"ends on {UNFIT_ENDING[demand]}") for demand in strong
        ]
    for before, after in itertools.pairwise(lines):
        comes_up = before.row.start_position != "standing" and after.row.start_position == "standing"
        if "inversion" in before.demands and comes_up:
            says = "lie or sit for a breath before standing: the row before has the head below the heart"
            found.append(Finding("V6", Severity.WARN, after.planned_id, says))
    return found


def machine_state_safe(lines: Sequence[Line]) -> list[Finding]:
    """V7: headrest flat under a loaded neck, strap on the sprung push-through bar, springs and box before short box."""
    return [
        Finding("V7", Severity.BLOCK, line.planned_id, says)
        for line in lines
        for says in unsafe_states(line, line.demands)
    ]


def unsafe_states(line: Line, demands: Collection[str]) -> list[str]:
    """What of the machine's state is not safe for a line done with these demands."""
    found: list[str] = []
    setup, row = line.setup, line.row
    if row.apparatus is ApparatusKind.REFORMER and "neck_weight" in demands and setup.get("headrest") != "down":
        found.append("headrest must be flat: weight on the neck")
    if setup.get("bar") == "push_through" and line.springs and setup.get("safety_strap") != "on":
        found.append("safety strap must be on the sprung bar")
    if row.series == "Short box" and not (line.springs and setup.get("box") == "short"):
        found.append("springs on and the box seated before short box")
    return found


def exercises_whole(lines: Sequence[Line]) -> list[Finding]:
    """V8: the parts of one exercise in their order, and springs that never rise inside a step-down."""
    found: list[Finding] = []
    for run in whole_exercises(lines):
        for before, after in itertools.pairwise(run):
            if after.row.position_in_series <= before.row.position_in_series:
                says = f"{after.row.name} comes before {before.row.name}"
                found.append(Finding("V8", Severity.BLOCK, after.planned_id, says))
            elif (after.springs or 0) > (before.springs or 0):
                says = f"springs rise from {before.springs or 0} to {after.springs or 0} inside the exercise"
                found.append(Finding("V8", Severity.BLOCK, after.planned_id, says))
    return found


def pools_hold(lines: Sequence[Line], repertoire: Mapping[str, ExerciseRow]) -> list[Finding]:
    """V8: parts that share a total add up to it. Where no line of a pool names a number the pool settles itself."""
    by_id = {line.row.id: line for line in lines}
    found: list[Finding] = []
    for pool in whole_pools(repertoire, by_id):
        members = [by_id[row.id] for row in (*pool.donors, pool.recipient)]
        if all(line.plan.reps is None for line in members):
            continue
        recipient = by_id[pool.recipient.id].plan.reps
        count = pool.usual_recipient if recipient is None else recipient
        shares = pool.shares(count)
        donors = {row.id: by_id[row.id].plan.reps for row in pool.donors}
        if not pool.holds({key: shares[key] if reps is None else reps for key, reps in donors.items()}, count):
            says = (
                f"{pool.recipient.exercise}: the parts do not share {pool.total} repetitions with their minimums kept"
            )
            found.append(Finding("V8", Severity.WARN, by_id[pool.recipient.id].planned_id, says))
    return found


def opposition(lines: Sequence[Line]) -> list[Finding]:
    """V9: an extension row for every four flexion rows, and never more than three rounding rows running."""
    found: list[Finding] = []
    flexion = sum(line.is_flexion for line in lines)
    extension = sum(line.is_extension for line in lines)
    if extension * FLEXION_FOR_EACH_EXTENSION < flexion:
        says = f"rows of flexion: {flexion}, of extension: {extension}; one is asked for every four"
        found.append(Finding("V9", Severity.WARN, None, says))
    running = 0
    for line in lines:
        running = running + 1 if line.is_flexion and not line.is_extension else 0
        if running == FLEXION_RUN + 1:
            found.append(Finding("V9", Severity.WARN, line.planned_id, "more than three rounding rows running"))
    return found


def sides_equal(lines: Sequence[Line]) -> list[Finding]:
    """V9, rule 6: same count on both sides; one extra only with a written reason."""
    found: list[Finding] = []
    for line in lines:
        extra = line.plan.extra_one_side
        if extra and not line.plan.reason:
            found.append(Finding("V9", Severity.WARN, line.planned_id, "one side does more, and no reason is written"))
        elif extra > 1:
            found.append(Finding("V9", Severity.WARN, line.planned_id, f"one side does {extra} more; one is the most"))
    return found
