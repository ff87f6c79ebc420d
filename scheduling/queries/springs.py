"""Springs one by one: what hangs where, how each was measured, what it pulled, and what is advised."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from scheduling import models
from scheduling.queries.lettering import LETTERS
from scheduling.rules import wear
from scheduling.rules.springs import GOOD_FIT, SpringFact, alike, force, overstretched, told
from studio.models import Studio
from studio.rules import ApparatusKind, zones

# The travel that springs are shown for where nobody's own is known (fixtures/reference/springs_default.csv).
USUAL_TRAVEL_M = 0.40


@dataclass(frozen=True)
class Look:
    """One look at a spring; no findings: nothing was seen or heard."""

    id: int
    on: date
    findings: tuple[wear.Finding, ...]
    made_by: str


@dataclass(frozen=True)
class SpringRow:
    """One spring as it hangs (or hung). `used` is Miner's sum, not validated; `cycles` are those of finished logs."""

    id: int
    apparatus_id: int
    machine: str
    position: int
    stiffness: str
    serial: str
    fact: SpringFact
    calibrated_on: date | None
    fitted_on: date
    removed_on: date | None
    cycles: int
    used: float
    months: float
    looked: Look | None
    judged: wear.Judged

    @property
    def letter(self) -> str:
        return LETTERS[self.stiffness]

    @property
    def name(self) -> str:
        return f"{self.stiffness.capitalize()} spring {self.position}"

    @property
    def stiff(self) -> str:
        return told(self.fact.k, "N/m")

    @property
    def at_rest(self) -> str:
        return told(force([self.fact], 0.0), "N")

    @property
    def at_travel(self) -> str:
        """Newtons at the usual travel of 40 cm."""
        return told(force([self.fact], USUAL_TRAVEL_M), "N")

    @property
    def beyond(self) -> bool:
        """Whether that travel would stretch it by its whole free length or more."""
        return bool(overstretched([self.fact], USUAL_TRAVEL_M))

    @property
    def used_words(self) -> str:
        """Miner's sum with two digits; a little is told as that, not as nothing."""
        return "0" if not self.used else "under 0.01" if self.used < 0.01 else f"{self.used:.2f}"

    @property
    def rests_on(self) -> str:
        """What its rated force was reckoned from, in words."""
        return "its measured length" if self.fact.free_length else "an assumed length of 60 cm"


@dataclass(frozen=True)
class CalibrationRow:
    """Measurements of a spring: points of (metre, newton) and the line through them. One of a spring counts."""

    id: int
    measured_on: date
    instrument: str
    points: tuple[tuple[float, float], ...]
    k: float
    x0: float
    r2: float
    made_by: str
    made_at: datetime
    is_taken_back: bool
    counts: bool

    @property
    def stiff(self) -> str:
        return told(self.k, "N/m")

    @property
    def pre_extension(self) -> str:
        return f"{100 * self.x0:.1f} cm"

    @property
    def fit(self) -> str:
        """R2 with three digits; two points always lie on a line, so their fit says nothing."""
        return f"{self.r2:.3f}" if len({x for x, _ in self.points}) > 2 else "two points only"

    @property
    def is_poor(self) -> bool:
        return self.r2 < GOOD_FIT

    @property
    def measured(self) -> tuple[tuple[str, str, str], ...]:
        """Each point in words, with what the line says there: extension, force, force of the line."""
        return tuple(
            (f"{100 * x:.1f} cm", told(pulled, "N"), told(self.k * (x + self.x0), "N")) for x, pulled in self.points
        )


@dataclass(frozen=True)
class SpringPage:
    """One spring with its whole history; `others` hung in the same place before or after."""

    row: SpringRow
    studio_id: int
    zone: ZoneInfo
    calibrations: tuple[CalibrationRow, ...]
    looks: tuple[Look, ...]
    others: tuple[SpringRow, ...]

    @property
    def standing(self) -> CalibrationRow | None:
        return next((one for one in self.calibrations if one.counts), None)


@dataclass(frozen=True)
class MachineSprings:
    """A machine with the springs that hang on it now; `like` names the machines that carry the same within 4 %."""

    id: int
    label: str
    kind: ApparatusKind
    room: str
    studio: str
    measures: "Measures"
    springs: tuple[SpringRow, ...]
    like: tuple[str, ...] = ()

    @property
    def facts(self) -> tuple[SpringFact, ...]:
        return tuple(row.fact for row in self.springs)

    @property
    def uncalibrated(self) -> int:
        return sum(row.calibrated_on is None for row in self.springs)

    @property
    def to_look_at(self) -> tuple[SpringRow, ...]:
        return tuple(row for row in self.springs if row.judged.advice is not wear.Advice.KEEP)


@dataclass(frozen=True)
class Measures:
    """Lengths of a machine in metres; None where nobody has measured."""

    bar_to_rest: float | None = None
    foot_above_hip: float | None = None
    track: float | None = None
    pedal_ratio: float | None = None


def machines_with_springs(*, now: datetime, apparatus_id: int | None = None) -> list[MachineSprings]:
    """Machines in service that carry springs, in the house's order, or the one asked for. Four queries at most."""
    rows = models.Apparatus.objects.filter(studio__closed_on=None).select_related("studio", "room")
    rows = rows.order_by("studio__position", "room__position", "position", "label")
    machines = [row for row in rows if row.pk == apparatus_id or (row.in_service_to or now.date()) >= now.date()]
    hung = _rows(models.Spring.objects.filter(removed_on=None, apparatus__in=machines), now)
    by_machine: dict[int, list[SpringRow]] = defaultdict(list)
    for spring in hung:
        by_machine[spring.apparatus_id].append(spring)
    found = [_machine(row, by_machine[row.pk]) for row in machines if by_machine[row.pk] or row.pk == apparatus_id]
    return [one for one in _with_like(found) if apparatus_id in (None, one.id)]


def springs_of_machine(apparatus_id: int, *, now: datetime) -> MachineSprings:
    """One machine with its springs, also when it carries none. Raises Apparatus.DoesNotExist."""
    found = machines_with_springs(now=now, apparatus_id=apparatus_id)
    if not found:
        raise models.Apparatus.DoesNotExist("no such machine")
    return found[0]


def spring_page(spring_id: int, *, now: datetime) -> SpringPage:
    """One spring, hanging or taken off, with its history. Raises Spring.DoesNotExist."""
    spring = models.Spring.objects.select_related("apparatus__studio").get(pk=spring_id)
    same_place = models.Spring.objects.filter(apparatus=spring.apparatus_id, position=spring.position)
    rows = {row.id: row for row in _rows(same_place, now)}
    made = spring.calibrations.select_related("made_by").order_by("-measured_on", "-made_at", "-pk")
    looks = spring.inspections.filter(taken_back_at=None).select_related("made_by").order_by("-on", "-made_at", "-pk")
    return SpringPage(
        row=rows[spring.pk],
        studio_id=spring.apparatus.studio_id,
        zone=ZoneInfo(spring.apparatus.studio.time_zone),
        calibrations=_calibrations(made),
        looks=tuple(_look(look) for look in looks),
        others=tuple(row for row in rows.values() if row.id != spring.pk),
    )


def springs_at(apparatus_id: int, *, on: date | None = None) -> dict[int, SpringFact]:
    """Springs by key as they hang from the foot end: now, or on a past day. One query."""
    rows = models.Spring.objects.filter(apparatus=apparatus_id).order_by("position", "fitted_on", "pk")
    if on is None:
        rows = rows.filter(removed_on=None)
    else:
        rows = rows.filter(fitted_on__lte=on).exclude(removed_on__lte=on)
    return {row.pk: fact_of(row) for row in rows}


def measures_of(apparatus_id: int) -> Measures:
    """What was measured of a machine. Raises Apparatus.DoesNotExist."""
    row = models.Apparatus.objects.get(pk=apparatus_id)
    return _measures(row)


def _rows(springs: QuerySet[models.Spring], now: datetime) -> list[SpringRow]:
    """Three queries, whatever the number."""
    found = list(springs.select_related("apparatus").order_by("apparatus_id", "position", "fitted_on", "pk"))
    keys = [spring.pk for spring in found]
    zone_of = {key: ZoneInfo(name) for key, name in Studio.objects.values_list("pk", "time_zone")}
    uses: dict[int, list[wear.Strokes]] = defaultdict(list)
    for key, cycles, pulled in models.SpringUse.objects.filter(spring__in=keys).values_list(
        "spring_id", "cycles", "mean_force_n"
    ):
        uses[key].append(wear.Strokes(cycles, pulled))
    looks = _last_looks(keys)
    return [
        _row(spring, uses[spring.pk], looks.get(spring.pk), zones.local_day(now, zone_of[spring.apparatus.studio_id]))
        for spring in found
    ]


def _row(spring: models.Spring, uses: Sequence[wear.Strokes], look: Look | None, today: date) -> SpringRow:
    fact, until = fact_of(spring), spring.removed_on or today
    used = wear.used_up(uses, rated=wear.rated_force(fact))
    return SpringRow(
        id=spring.pk,
        apparatus_id=spring.apparatus_id,
        machine=spring.apparatus.label,
        position=spring.position,
        stiffness=spring.stiffness_class,
        serial=spring.serial,
        fact=fact,
        calibrated_on=spring.calibrated_on,
        fitted_on=spring.fitted_on,
        removed_on=spring.removed_on,
        cycles=sum(one.cycles for one in uses),
        used=used,
        months=wear.months(spring.fitted_on, until),
        looked=look,
        judged=wear.judge(
            used,
            fitted_on=spring.fitted_on,
            on=until,
            findings=look.findings if look else (),
            looked_on=look.on if look else None,
        ),
    )


def _last_looks(spring_ids: Iterable[int]) -> dict[int, Look]:
    rows = models.Inspection.objects.filter(spring__in=list(spring_ids), taken_back_at=None)
    rows = rows.select_related("made_by").order_by("spring_id", "-on", "-made_at", "-pk").distinct("spring_id")
    return {row.spring_id: _look(row) for row in rows}


def _look(row: models.Inspection) -> Look:
    findings = tuple(wear.Finding(key) for key in row.findings)
    return Look(row.pk, row.on, findings, row.made_by.name if row.made_by else "")


def _calibrations(rows: Iterable[models.Calibration]) -> tuple[CalibrationRow, ...]:
    found, counting = [], True
    for row in rows:
        counts = counting and row.taken_back_at is None
        counting = counting and not counts
        found.append(
            CalibrationRow(
                id=row.pk,
                measured_on=row.measured_on,
                instrument=row.instrument,
                points=tuple((x, pulled) for x, pulled in row.points),
                k=row.k_n_per_m,
                x0=row.x0_m,
                r2=row.r2,
                made_by=row.made_by.name if row.made_by else "",
                made_at=row.made_at,
                is_taken_back=row.taken_back_at is not None,
                counts=counts,
            )
        )
    return tuple(found)


def fact_of(row: models.Spring) -> SpringFact:
    """A spring as the rules read it."""
    measured = row.calibrated_on is not None
    return SpringFact(row.k_n_per_m, row.x0_m, row.stiffness_class, measured, row.free_length_m)


def _measures(row: models.Apparatus) -> Measures:
    return Measures(row.bar_to_rest_m, row.foot_above_hip_m, row.track_m, row.pedal_ratio)


def _machine(row: models.Apparatus, springs: Sequence[SpringRow]) -> MachineSprings:
    return MachineSprings(
        row.pk, row.label, ApparatusKind(row.kind), row.room.name, row.studio.name, _measures(row), tuple(springs)
    )


def _with_like(machines: Sequence[MachineSprings]) -> list[MachineSprings]:
    return [replace(one, like=tuple(_labels_like(one, machines))) if one.springs else one for one in machines]


def _labels_like(one: MachineSprings, machines: Sequence[MachineSprings]) -> Iterable[str]:
    for other in machines:
        if other.id != one.id and other.kind is one.kind and alike(one.facts, other.facts):
            yield other.label
