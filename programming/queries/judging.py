"""A program of reference ids judged and timed, nothing kept: what the API asks."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from programming import models
from programming.queries import machines
from programming.queries import repertoire as repertoire_queries
from programming.rules import building, validation
from programming.rules.lines import Line, PlannedLine, resolved
from programming.rules.repertoire import ExerciseRow
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace, Slot, Times
from studio.rules import Reason, Refused


@dataclass(frozen=True)
class AskedLine:
    """One line by reference id; None is as the repertoire says."""

    exercise: str
    reps: int | None = None
    springs: int | None = None
    adapted: bool = False
    setup: Mapping[str, str] = field(default_factory=dict, hash=False)
    extra_one_side: int = 0
    has_reason: bool = False


@dataclass(frozen=True)
class Asked:
    """A program to be looked at; `new` exercises are ones the client has not met."""

    lines: tuple[AskedLine, ...]
    minutes: int
    pace: Pace = Pace.WORKING
    new: int = 0


@dataclass(frozen=True)
class Found:
    """One finding; `line` counts from 1, None is about the whole."""

    rule: str
    severity: validation.Severity
    line: int | None
    says: str


@dataclass(frozen=True)
class Report:
    blocks: bool
    findings: tuple[Found, ...]


@dataclass(frozen=True)
class TimedLine:
    exercise: str
    begins: float
    seconds: float
    spring_changes: int
    set_up_changes: int


@dataclass(frozen=True)
class TimedExposure:
    demand: str
    seconds: float
    ceiling: float
    is_run: bool


@dataclass(frozen=True)
class Timed:
    """The sums of a lesson in seconds, with exercises not met before among them."""

    seconds: float
    slot: float
    fit: str
    spring_changes: int
    set_up_changes: int
    box_fetches: int
    flexion: int
    extension: int
    lines: tuple[TimedLine, ...]
    exposure: tuple[TimedExposure, ...]


def judged(asked: Asked, *, machine_id: int | None, inventory: SpringSet | None) -> Report:
    """The report of the rules. Springs are judged on a machine, or on an inventory, or not at all.

    Raises Refused for an unknown exercise and DoesNotExist for an unknown machine.
    """
    lines, repertoire, times = _read(asked)
    if machine_id is not None:
        inventory = machines.machine(machine_id).springs or SpringSet()
    found = validation.report(
        lines, repertoire, times, slot=Slot(asked.minutes * 60), pace=asked.pace, inventory=inventory, new=asked.new
    )
    findings = tuple(Found(one.rule, one.severity, int(one.line) if one.line else None, one.says) for one in found)
    return Report(validation.blocks(found), findings)


def timed(asked: Asked) -> Timed:
    """The sums of the lesson. Raises Refused for an unknown exercise."""
    lines, _, times = _read(asked)
    ceilings = validation.ceilings_from(models.RepertoireTable.objects.get(name="exposure_ceilings").rows)
    found = building.sums(lines, times, minutes=asked.minutes, pace=asked.pace, ceilings=ceilings)
    seconds = found.seconds + asked.new * times.new_exercise
    return Timed(
        seconds=seconds,
        slot=found.slot,
        fit=Slot(found.slot).check(seconds, times).value,
        spring_changes=found.flow.changes.springs,
        set_up_changes=found.set_up,
        box_fetches=found.flow.box_fetches,
        flexion=found.flow.flexion,
        extension=found.flow.extension,
        lines=tuple(_timed_line(line, each) for line, each in zip(lines, found.lines, strict=True)),
        exposure=tuple(
            TimedExposure(one.demand, one.seconds, one.ceiling.seconds, one.ceiling.is_run) for one in found.exposure
        ),
    )


def _timed_line(line: Line, each: building.LineSums) -> TimedLine:
    changes = each.change
    return TimedLine(line.row.id, each.begins, each.seconds, changes.springs, changes.total - changes.springs)


def _read(asked: Asked) -> tuple[tuple[Line, ...], Mapping[str, ExerciseRow], Times]:
    repertoire = repertoire_queries.exercises()
    if unknown := sorted({line.exercise for line in asked.lines} - repertoire.keys()):
        says = f"Not in the repertoire: {', '.join(unknown)[:120]}."
        raise Refused(Reason("no_such_exercise", says, "lines", "Reference ids, as R-HUN."))
    planned = [
        PlannedLine(
            str(no),
            one.exercise,
            one.reps,
            one.springs,
            one.adapted,
            one.setup,
            one.extra_one_side,
            "given" if one.has_reason else "",
        )
        for no, one in enumerate(asked.lines, 1)
    ]
    return resolved(planned, repertoire), repertoire, repertoire_queries.times()
