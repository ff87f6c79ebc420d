"""What fitting did to a program for this body: sealed with the client's key, one seal a program."""

from collections.abc import Mapping, Sequence
from typing import Any

from clients.actions import seals
from clients.rules.outcomes import Level
from programming import models
from programming.queries.fits import Fit, FittedTo, LineFit
from programming.rules import fitting
from studio.rules import ApparatusKind

COLUMN = "sealed_fit"


def fit_of(fitted: fitting.FittedProgram, limits: str, to: FittedTo | None = None) -> Fit:
    """The sealed part of a fitted program; `limits` is the digest of the limits it was fitted for."""
    lines = {position: line_fit(line) for position, line in enumerate(fitted.lines, 1)}
    unproven = None if fitted.is_proven else (fitted.cost, fitted.bound)
    return Fit(limits, lines, to, fitted.lost_aims, fitted.blocks_most, unproven)


def line_fit(line: fitting.FittedLine, by_hand: str = "") -> LineFit:
    """What is kept sealed of one fitted line."""
    return LineFit(
        form=line.form,
        why=tuple(_step(step) for step in line.why),
        demands=frozenset(line.demands),
        steps=line.steps,
        setup=line.setup,
        lost=line.lost_purposes,
        notes=line.notes,
        by_hand=by_hand,
    )


def sealed(program: models.Program, fit: Fit) -> bytes:
    """The fit, sealed with the key of the program's client."""
    told: dict[str, Any] = {
        "limits": fit.limits,
        "lines": {str(position): _told(line) for position, line in fit.lines.items()},
        "lost_aims": fit.lost_aims,
        "blocks_most": fit.blocks_most,
    }
    if fit.unproven is not None:
        told["unproven"] = [cost._asdict() for cost in fit.unproven]
    if fit.to is not None:
        told["to"] = {
            "levels": fit.to.levels,
            "notes": sorted(fit.to.notes),
            "waived": sorted(fit.to.waived),
            "ceilings": fit.to.ceilings,
            "said": fit.to.said,
        }
    return seals.sealed(told, row=program, column=COLUMN, client=program.client)


def opened(program: models.Program) -> Fit:
    """The fit again, empty when the client was erased. Whoever asks records who reads. Raises SealBroken."""
    if not program.sealed_fit:
        return Fit()
    found = seals.opened(program, COLUMN, client=program.client)
    lines = {int(position): _line(line) for position, line in found["lines"].items()}
    blocks = tuple((demand, count) for demand, count in found.get("blocks_most", ()))
    lost, unproven = tuple(found.get("lost_aims", ())), _unproven(found.get("unproven"))
    return Fit(found["limits"], lines, _to(found.get("to")), lost, blocks, unproven)


def _unproven(found: Sequence[Mapping[str, int]] | None) -> tuple[fitting.Cost, fitting.Cost] | None:
    if found is None:
        return None
    cost, bound = found
    return fitting.Cost(**cost), fitting.Cost(**bound)


def _to(found: Mapping[str, Any] | None) -> FittedTo | None:
    if found is None:
        return None
    return FittedTo(
        levels={demand: Level(level) for demand, level in found["levels"].items()},
        notes=frozenset(found["notes"]),
        waived=frozenset(found["waived"]),
        ceilings={ApparatusKind(kind): level for kind, level in found["ceilings"].items()},
        said=found["said"],
    )


def _told(line: LineFit) -> dict[str, Any]:
    told: dict[str, Any] = {"form": line.form, "why": line.why, "demands": sorted(line.demands)}
    more = {
        "steps": line.steps,
        "setup": line.setup,
        "lost": line.lost,
        "notes": line.notes,
        "by_hand": line.by_hand,
    }
    return told | {name: value for name, value in more.items() if value}


def _line(line: Mapping[str, Any]) -> LineFit:
    return LineFit(
        form=line["form"],
        why=tuple(line["why"]),
        demands=frozenset(line["demands"]),
        steps=tuple(line.get("steps", ())),
        setup=tuple(line.get("setup", ())),
        lost=tuple(line.get("lost", ())),
        notes=tuple(line.get("notes", ())),
        by_hand=line.get("by_hand", ""),
    )


def _step(step: fitting.Why) -> dict[str, Any]:
    return {
        "exercise_id": step.exercise_id,
        "demand": step.demand,
        "level": step.level.value,
        "rule": step.rule.value,
        "because": list(step.because),
        "source_ids": list(step.source_ids),
        "how": step.how,
    }
