"""Machines, where they stand, their springs and when they are out of service."""

from django.contrib.postgres.fields import DateTimeRangeField
from django.db import models
from django.db.models import F, Q

from studio.rules import ApparatusKind

KINDS = [(kind.value, kind.value) for kind in ApparatusKind]
CLASSES = [("light", "light"), ("medium", "medium"), ("heavy", "heavy")]


class Room(models.Model):
    studio = models.ForeignKey("studio.Studio", on_delete=models.PROTECT, related_name="rooms")
    name = models.CharField(max_length=80)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint("studio", "name", name="scheduling_room_name_once")]

    def __str__(self) -> str:
        return self.name


class Apparatus(models.Model):
    """One machine, or one mat: whatever a place stands on."""

    studio = models.ForeignKey("studio.Studio", on_delete=models.PROTECT, related_name="apparatus")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="apparatus")
    kind = models.CharField(max_length=10, choices=KINDS)
    label = models.CharField(max_length=60)
    position = models.PositiveSmallIntegerField(default=0)
    in_service_from = models.DateField()
    in_service_to = models.DateField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "apparatus"
        constraints = [
            models.UniqueConstraint(
                "studio",
                "label",
                name="scheduling_apparatus_label_once",
                violation_error_message="There is already a machine with that label here.",
            ),
            models.CheckConstraint(
                condition=Q(in_service_to=None) | Q(in_service_to__gte=F("in_service_from")),
                name="scheduling_apparatus_service_ends_after",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class Spring(models.Model):
    """One spring on one machine over a span of days. Units: newton per metre and metre; defaults are uncalibrated."""

    apparatus = models.ForeignKey(Apparatus, on_delete=models.CASCADE, related_name="springs")
    stiffness_class = models.CharField(max_length=6, choices=CLASSES)
    position = models.PositiveSmallIntegerField()
    serial = models.CharField(max_length=40, blank=True)
    k_n_per_m = models.FloatField()
    x0_m = models.FloatField()
    calibrated_on = models.DateField(null=True, blank=True)
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "apparatus", "position", name="scheduling_spring_position_once", condition=Q(removed_on=None)
            ),
            models.CheckConstraint(condition=Q(k_n_per_m__gt=0), name="scheduling_spring_stiffness_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.stiffness_class} spring {self.position} of {self.apparatus}"


class Calibration(models.Model):
    """Measurements of one spring and the line fitted to them: points of (metre, newton), k in N/m, x0 in m."""

    spring = models.ForeignKey(Spring, on_delete=models.CASCADE, related_name="calibrations")
    measured_on = models.DateField()
    instrument = models.CharField(max_length=80)
    points = models.JSONField()
    k_n_per_m = models.FloatField()
    x0_m = models.FloatField()
    r2 = models.FloatField()
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(k_n_per_m__gt=0), name="scheduling_calibration_stiffness_positive")
        ]

    def __str__(self) -> str:
        return f"calibration of {self.spring_id} on {self.measured_on}"


class SpringUse(models.Model):
    """Strokes of one spring in one finished log, handed over once. `log_id` is the key of that log, in another app."""

    spring = models.ForeignKey(Spring, on_delete=models.CASCADE, related_name="uses")
    log_id = models.UUIDField()
    on = models.DateField()
    cycles = models.PositiveIntegerField()
    mean_force_n = models.FloatField()

    class Meta:
        constraints = [models.UniqueConstraint("spring", "log_id", name="scheduling_springuse_once")]

    def __str__(self) -> str:
        return f"{self.cycles} cycles of {self.spring_id}"


class OutOfService(models.Model):
    """A machine nobody may be booked on for a span, and why."""

    apparatus = models.ForeignKey(Apparatus, on_delete=models.CASCADE, related_name="out_of_service")
    during = DateTimeRangeField()
    why = models.CharField(max_length=120)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "out of service"
        constraints = [
            models.CheckConstraint(
                condition=Q(during__isempty=False) & Q(during__lower_inc=True) & Q(during__upper_inc=False),
                name="scheduling_outofservice_half_open",
            )
        ]

    def __str__(self) -> str:
        return f"{self.apparatus}: {self.why}"
