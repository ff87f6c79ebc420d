"""Springs one by one: hung, replaced, taken off, looked at; what a machine measures; and what was pulled in a log."""

import math
from collections.abc import Collection, Mapping
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from scheduling import models
from scheduling.actions import locks
from scheduling.rules.booking import day_words
from scheduling.rules.springs import CLASSES, MOST_SPRINGS, USUAL
from scheduling.rules.wear import Finding, Strokes
from studio.actions import audit
from studio.models import Person
from studio.rules import Reason, Refused, zones

LONGEST_M = 3.0
MEASURES = ("bar_to_rest_m", "foot_above_hip_m", "track_m", "pedal_ratio")


def hanging(spring_id: int) -> models.Spring:
    """A spring that hangs on its machine now, locked with it. Raises Spring.DoesNotExist, and Refused when it is off.

    To be called inside a transaction.
    """
    locks.apparatus([models.Spring.objects.values_list("apparatus_id", flat=True).get(pk=spring_id)])
    spring = models.Spring.objects.select_related("apparatus__studio").get(pk=spring_id)
    if spring.removed_on is not None:
        says = f"This spring was taken off on {day_words(spring.removed_on)}; its history stays as it is."
        raise Refused(Reason("spring_off", says, allowed="the spring that hangs there now"))
    return spring


def today_at(spring: models.Spring, now: datetime) -> date:
    return zones.local_day(now, ZoneInfo(spring.apparatus.studio.time_zone))


def hang_spring(
    apparatus_id: int, *, stiffness_class: str, serial: str, by: Person | None, now: datetime
) -> models.Spring:
    """One more spring of a class on a machine, with uncalibrated numbers. Raises Refused when twelve hang there."""
    with transaction.atomic():
        machine = _machine(apparatus_id)
        taken = set(machine.springs.filter(removed_on=None).values_list("position", flat=True))
        if len(taken) >= MOST_SPRINGS:
            raise Refused(Reason("too_many", f"At most {MOST_SPRINGS} springs hang on a machine.", "stiffness_class"))
        free = next(number for number in range(1, MOST_SPRINGS + 2) if number not in taken)
        day = zones.local_day(now, ZoneInfo(machine.studio.time_zone))
        spring = _hung(machine, stiffness_class, position=free, serial=serial, day=day)
        audit.wrote("hang spring", spring, by=by, now=now, detail={"apparatus": machine.pk})
    return spring


def replace_spring(spring_id: int, *, serial: str, by: Person | None, now: datetime) -> models.Spring:
    """A new spring of the same class in the place of an old one: a new history, with uncalibrated numbers.

    Raises Refused for a spring that was taken off already.
    """
    with transaction.atomic():
        old = hanging(spring_id)
        day = today_at(old, now)
        old.removed_on = day
        old.save(update_fields=["removed_on"])
        new = _hung(old.apparatus, old.stiffness_class, position=old.position, serial=serial, day=day)
        audit.wrote("replace spring", new, by=by, now=now, detail={"instead_of": old.pk})
    return new


def take_off_spring(spring_id: int, *, by: Person | None, now: datetime) -> models.Spring:
    """A spring hangs on its machine no more, from today on. Raises Refused when it was taken off already."""
    with transaction.atomic():
        spring = hanging(spring_id)
        spring.removed_on = today_at(spring, now)
        spring.save(update_fields=["removed_on"])
        audit.wrote("take off spring", spring, by=by, now=now, detail={"apparatus": spring.apparatus_id})
    return spring


def put_back_spring(spring_id: int, *, by: Person | None, now: datetime) -> models.Spring:
    """Undo what was taken off or replaced today; a new spring that nothing is known of goes out again.

    Raises Refused after that day, or when the one in its place has been measured, looked at or used.
    """
    with transaction.atomic():
        locks.apparatus([models.Spring.objects.values_list("apparatus_id", flat=True).get(pk=spring_id)])
        spring = models.Spring.objects.select_related("apparatus__studio").get(pk=spring_id)
        if spring.removed_on is None:
            return spring
        if spring.removed_on != today_at(spring, now):
            says = "A spring is put back on the day it was taken off."
            raise Refused(Reason("too_late_to_undo", says, allowed="hang it as a new one: its history begins anew"))
        _clear(spring)
        spring.removed_on = None
        spring.save(update_fields=["removed_on"])
        audit.wrote("put back spring", spring, by=by, now=now, detail={"apparatus": spring.apparatus_id})
    return spring


def keep_spring(
    spring_id: int, *, serial: str, free_length_m: float | None, by: Person | None, now: datetime
) -> models.Spring:
    """What is written on a spring, and how long it is unhooked. Raises Refused for a length that is none."""
    with transaction.atomic():
        spring = hanging(spring_id)
        if free_length_m is not None and not 0.05 <= free_length_m <= LONGEST_M:
            says = "A spring measures between 5 cm and 3 metres."
            raise Refused(Reason("free_length", says, "free_length", "5 to 300 cm, or nothing"))
        spring.serial, spring.free_length_m = serial.strip()[:40], free_length_m
        spring.save(update_fields=["serial", "free_length_m"])
        audit.wrote("keep spring", spring, by=by, now=now)
    return spring


def measure_machine(
    apparatus_id: int, *, measures: Mapping[str, float | None], by: Person | None, now: datetime
) -> models.Apparatus:
    """Lengths of a machine in metres by the names of `MEASURES`; None takes one away. Raises Refused for nonsense."""
    with transaction.atomic():
        machine = _machine(apparatus_id)
        for name, value in measures.items():
            if name not in MEASURES:
                raise ValueError(f"a machine has no {name}")
            least = -1.0 if name == "foot_above_hip_m" else 0.05
            if value is not None and not (math.isfinite(value) and least <= value <= LONGEST_M):
                raise Refused(Reason("measure", "That is no length of a machine.", name, "up to 3 metres"))
            setattr(machine, name, value)
        machine.save(update_fields=list(measures))
        audit.wrote("measure machine", machine, by=by, now=now, detail=dict(measures))
    return machine


def inspect_spring(
    spring_id: int, *, findings: Collection[Finding], by: Person | None, now: datetime
) -> models.Inspection:
    """Somebody looked at a spring today; the last look counts. No findings: nothing was seen or heard."""
    with transaction.atomic():
        spring = hanging(spring_id)
        row = _looked(spring, findings, by, now)
        row.save(force_insert=True)
        audit.wrote("inspect spring", row, by=by, now=now, detail={"spring": spring.pk, "findings": row.findings})
    return row


def inspect_machine(apparatus_id: int, *, by: Person | None, now: datetime) -> int:
    """Every spring of a machine was looked at and nothing found; how many. Those with a finding keep it."""
    with transaction.atomic():
        machine = _machine(apparatus_id)
        rows = []
        for spring in machine.springs.filter(removed_on=None).select_related("apparatus__studio"):
            last = spring.inspections.filter(taken_back_at=None).order_by("-on", "-made_at", "-pk").first()
            if last is None or not last.findings:
                rows.append(_looked(spring, (), by, now))
        models.Inspection.objects.bulk_create(rows)
        audit.wrote("inspect machine", machine, by=by, now=now, detail={"springs": len(rows)})
    return len(rows)


def take_back_inspection(inspection_id: int, *, by: Person | None, now: datetime) -> models.Inspection:
    """A look that does not count: the one before it does."""
    with transaction.atomic():
        row = models.Inspection.objects.select_for_update().get(pk=inspection_id)
        if row.taken_back_at is None:
            row.taken_back_at = now
            row.save(update_fields=["taken_back_at"])
            audit.wrote("take back inspection", row, by=by, now=now, detail={"spring": row.spring_id})
    return row


def count_use(log_id: UUID, *, on: date, strokes: Mapping[int, Strokes]) -> None:
    """What each spring (by key) pulled in one finished log; handed over again it changes nothing.

    To be called in the transaction that finishes the log.
    """
    rows = [
        models.SpringUse(spring_id=key, log_id=log_id, on=on, cycles=one.cycles, mean_force_n=one.force)
        for key, one in strokes.items()
        if one.cycles
    ]
    models.SpringUse.objects.bulk_create(rows, ignore_conflicts=True)


def take_back_use(log_id: UUID) -> None:
    """Nothing was pulled in this log: it is open again. To be called in the transaction that opens it."""
    models.SpringUse.objects.filter(log_id=log_id).delete()


def _machine(apparatus_id: int) -> models.Apparatus:
    """Locked; looked up first, so that a number that is no key is answered as one."""
    machine = models.Apparatus.objects.select_related("studio").get(pk=apparatus_id)
    locks.apparatus([apparatus_id])
    return machine


def _hung(machine: models.Apparatus, stiffness_class: str, *, position: int, serial: str, day: date) -> models.Spring:
    if stiffness_class not in CLASSES:
        says = "There is no spring of that class here."
        raise Refused(Reason("unknown_springs", says, "stiffness_class", "light, medium or heavy"))
    k, x0 = USUAL[stiffness_class]
    return models.Spring.objects.create(
        apparatus=machine, stiffness_class=stiffness_class, position=position, serial=serial.strip()[:40],
        k_n_per_m=k, x0_m=x0, fitted_on=day,
    )  # fmt: skip


def _clear(spring: models.Spring) -> None:
    """The place of a spring made free, by taking out a new one that has no history yet."""
    holder = models.Spring.objects.filter(apparatus=spring.apparatus_id, position=spring.position, removed_on=None)
    held = holder.first()
    if held is None:
        return
    if held.calibrations.exists() or held.inspections.exists() or held.uses.exists():
        says = "Another spring hangs in its place and has a history of its own."
        raise Refused(Reason("place_taken", says, allowed="take that one off first"))
    held.delete()


def _looked(
    spring: models.Spring, findings: Collection[Finding], by: Person | None, now: datetime
) -> models.Inspection:
    found = [finding.value for finding in Finding if finding in findings]
    return models.Inspection(spring=spring, on=today_at(spring, now), findings=found, made_by=by, made_at=now)
