"""What fitting did to a program for this body: sealed with the client's key, one seal a program."""

from typing import Any

from clients.actions import seals
from programming import models
from programming.queries.programs import Fit, LineFit
from programming.rules import fitting

COLUMN = "sealed_fit"


def fit_of(fitted: fitting.FittedProgram, limits: str) -> Fit:
    """The sealed part of a fitted program; `limits` is the digest of the limits it was fitted for."""
    lines = enumerate(fitted.lines, 1)
    return Fit(
        limits,
        {
            position: LineFit(line.form, tuple(_step(step) for step in line.why), frozenset(line.demands))
            for position, line in lines
        },
    )


def sealed(program: models.Program, fit: Fit) -> bytes:
    """The fit, sealed with the key of the program's client."""
    lines = {
        str(position): {"form": line.form, "why": line.why, "demands": sorted(line.demands)}
        for position, line in fit.lines.items()
    }
    return seals.sealed({"limits": fit.limits, "lines": lines}, row=program, column=COLUMN, client=program.client)


def opened(program: models.Program) -> Fit:
    """The fit again, empty when the client was erased. Whoever asks records who reads. Raises SealBroken."""
    if not program.sealed_fit:
        return Fit()
    found = seals.opened(program, COLUMN, client=program.client)
    lines = {int(position): _line(line) for position, line in found["lines"].items()}
    return Fit(found["limits"], lines)


def _line(line: dict[str, Any]) -> LineFit:
    return LineFit(line["form"], tuple(line["why"]), frozenset(line["demands"]))


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
