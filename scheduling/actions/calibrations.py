"""Measuring a spring: the points, the line through them, and which of its measurements counts."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from scheduling import models
from scheduling.actions.springs import hanging, today_at
from scheduling.rules import springs as rules
from scheduling.rules.booking import day_words
from scheduling.rules.springs import USUAL
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused

MOST_POINTS = 12
FARTHEST_M, STRONGEST_N = 2.0, 2000.0
Point = tuple[float, float]


@dataclass(frozen=True)
class Kept:
    """A calibration that was kept, and what is doubtful about it."""

    id: int
    line: rules.Calibration

    @property
    def warnings(self) -> tuple[Reason, ...]:
        return self.line.warnings


def calibrate_spring(
    spring_id: int,
    *,
    points: Sequence[Point],
    instrument: str,
    measured_on: date,
    by: Person | None,
    now: datetime,
) -> Kept:
    """Keep measurements of (metre, newton) and the line through them; from now on the spring pulls by its newest one.

    Raises Refused for fewer than two extensions, a force that does not grow, a point that is none, a day on which the
    spring did not hang here, no instrument, or a spring that was taken off.
    """
    with transaction.atomic():
        spring = hanging(spring_id)
        _check_points(points)
        line = rules.calibration(points, stiffness=spring.stiffness_class)
        _check_told(spring, measured_on, instrument, now)
        row = spring.calibrations.create(
            measured_on=measured_on, instrument=instrument.strip()[:80], points=[list(point) for point in points],
            k_n_per_m=line.k, x0_m=line.x0, r2=line.r2, made_by=by, made_at=now,
        )  # fmt: skip
        _follow_newest(spring)
        detail = {"spring": spring.pk, "k": round(line.k, 2), "r2": round(line.r2, 4)}
        audit.wrote("calibrate", row, by=by, now=now, detail=detail)
    return Kept(row.pk, line)


def take_back_calibration(calibration_id: int, *, by: Person | None, now: datetime) -> models.Spring:
    """A measurement does not count any more: the one before it does, or the uncalibrated default of its class."""
    return _settle(calibration_id, taken_back_at=now, verb="take back calibration", by=by, now=now)


def bring_back_calibration(calibration_id: int, *, by: Person | None, now: datetime) -> models.Spring:
    """A measurement that was taken back counts again."""
    return _settle(calibration_id, taken_back_at=None, verb="bring back calibration", by=by, now=now)


def _settle(
    calibration_id: int, *, taken_back_at: datetime | None, verb: str, by: Person | None, now: datetime
) -> models.Spring:
    with transaction.atomic():
        spring = hanging(models.Calibration.objects.values_list("spring_id", flat=True).get(pk=calibration_id))
        row = models.Calibration.objects.get(pk=calibration_id)
        row.taken_back_at = taken_back_at
        row.save(update_fields=["taken_back_at"])
        _follow_newest(spring)
        audit.wrote(verb, row, by=by, now=now, detail={"spring": spring.pk})
    return spring


def _follow_newest(spring: models.Spring) -> None:
    standing = spring.calibrations.filter(taken_back_at=None).order_by("-measured_on", "-made_at", "-pk").first()
    if standing is None:
        spring.k_n_per_m, spring.x0_m = USUAL[spring.stiffness_class]
    else:
        spring.k_n_per_m, spring.x0_m = standing.k_n_per_m, standing.x0_m
    spring.calibrated_on = standing.measured_on if standing else None
    spring.save(update_fields=["k_n_per_m", "x0_m", "calibrated_on"])


def _check_told(spring: models.Spring, measured_on: date, instrument: str, now: datetime) -> None:
    if not spring.fitted_on <= measured_on <= today_at(spring, now):
        allowed = f"a day from {day_words(spring.fitted_on)} to today"
        raise Refused(Reason("day", "The spring did not hang here on that day.", "measured_on", allowed))
    if not instrument.strip():
        raise Refused(Reason("no_instrument", "Say what it was measured with.", "instrument"))


def _check_points(points: Sequence[Point]) -> None:
    if len(points) > MOST_POINTS:
        raise Refused(Reason("too_many_points", f"At most {MOST_POINTS} measurements are kept.", "points"))
    for x, force in points:
        if not (math.isfinite(x) and 0 <= x <= FARTHEST_M):
            raise Refused(Reason("extension", "An extension is between 0 and 2 metres.", "points", "0 to 200 cm"))
        if not (math.isfinite(force) and 0 <= force <= STRONGEST_N):
            raise Refused(Reason("force", "A force is between 0 and 2,000 newtons.", "points", "0 to 2,000 N"))
