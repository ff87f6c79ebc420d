"""What the rules say of a program as it was fitted, V1 to V10."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from clients import queries as client_queries
from clients.rules.outcomes import DeskWord
from programming import models
from programming.queries import clients as known_clients
from programming.queries import repertoire
from programming.queries.fits import Fit, LineFit
from programming.rules import validation
from programming.rules.lines import Line, PlannedLine
from programming.rules.repertoire import ExerciseRow
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace, Slot, Times
from studio.rules import ApparatusKind


@dataclass(frozen=True)
class Judged:
    """What the rules say of a program for its client."""

    findings: tuple[validation.Finding, ...]


def as_rules_read(line: models.ProgramLine, fit: LineFit, row: ExerciseRow) -> Line:
    """A stored line as it is performed: its demands are those of the form it is done in."""
    performed = replace(row, demands=fit.demands, removable=frozenset()) if fit.demands != row.demands else row
    return Line(PlannedLine(str(line.position), row.id, line.reps), performed)


def judged(
    row: models.Program,
    stored: Sequence[models.ProgramLine],
    fit: Fit,
    taught: Mapping[int, ExerciseRow],
    times: Times,
    *,
    day: date | None = None,
) -> Judged:
    """The findings of a stored program; `taught` are the rows by position, `day` the day of its lesson if it has one.

    A program fitted before more than the limits was kept is judged as a template is.
    """
    lines = [as_rules_read(line, fit.of(line.position), taught[line.position]) for line in stored if line.exercise_id]
    inventory = _inventory(row)
    slot, pace = Slot(row.minutes * 60), Pace(row.pace)
    known = known_clients.known_by(row.client_id)
    named = {one.id: one for one in taught.values()}
    if fit.to is None:
        new = sum(line.row.id not in known.met for line in lines)
        return Judged(tuple(validation.report(lines, named, times, slot=slot, pace=pace, inventory=inventory, new=new)))
    found = validation.personal(
        lines, repertoire.exercises() | named, times, slot=slot, levels=fit.to.levels, owned=known.owned,
        met=known.met, waived=fit.to.waived, ceilings=_exposure_ceilings(), pace=pace, inventory=inventory,
        people=validation.People(is_screened=_is_screened(row, day), ceilings=fit.to.ceilings),
    )  # fmt: skip
    return Judged(tuple(found))


def _inventory(row: models.Program) -> SpringSet | None:
    """The springs it was fitted for, none included; None where the machine has none of its own to choose from."""
    letters = row.fitted_for.get("springs")
    return SpringSet.of(letters) if row.apparatus.kind == ApparatusKind.REFORMER and letters is not None else None


def _exposure_ceilings() -> Sequence[validation.Ceiling]:
    rows = models.RepertoireTable.objects.filter(name="exposure_ceilings").values_list("rows", flat=True).first()
    return validation.ceilings_from(rows or [])


def _is_screened(row: models.Program, day: date | None) -> bool | None:
    if day is None:
        return None
    standing = client_queries.form_standings([row.client_id], on=day)[row.client_id]
    return standing.word is DeskWord.CURRENT
