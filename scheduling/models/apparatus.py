"""Machines, where they stand, their springs and when they are out of service."""

from django.contrib.postgres.fields import ArrayField, DateTimeRangeField
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
    # Metres, measured on a reformer: foot bar to shoulder rest with the carriage home, foot contact above the hip,
    # length of the track. Empty: the house's assumption stands in and says so.
    bar_to_rest_m = models.FloatField(null=True, blank=True)
    foot_above_hip_m = models.FloatField(null=True, blank=True)
    track_m = models.FloatField(null=True, blank=True)
    # On a chair: length of the arm the spring pulls on, as a share of the pedal's arm.
    pedal_ratio = models.FloatField(null=True, blank=True)

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
            models.CheckConstraint(
                condition=(Q(bar_to_rest_m=None) | Q(bar_to_rest_m__gt=0))
                & (Q(track_m=None) | Q(track_m__gt=0))
                & (Q(pedal_ratio=None) | Q(pedal_ratio__gt=0)),
                name="scheduling_apparatus_lengths_positive",
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
    # Metres of the spring hanging free, coils closed; what the guard against overstretching is reckoned from.
    free_length_m = models.FloatField(null=True, blank=True)
    calibrated_on = models.DateField(null=True, blank=True)
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "apparatus", "position", name="scheduling_spring_position_once", condition=Q(removed_on=None)
            ),
            models.CheckConstraint(condition=Q(k_n_per_m__gt=0), name="scheduling_spring_stiffness_positive"),
            models.CheckConstraint(
                condition=Q(free_length_m=None) | Q(free_length_m__gt=0), name="scheduling_spring_length_positive"
            ),
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


class Inspection(models.Model):
    """What somebody saw or heard of a spring on a day: keys of `rules.wear.Finding`; none of them is a finding too."""

    spring = models.ForeignKey(Spring, on_delete=models.CASCADE, related_name="inspections")
    on = models.DateField()
    findings = ArrayField(models.CharField(max_length=12), default=list, blank=True)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index("spring", "on", name="scheduling_inspection_of")]

    def __str__(self) -> str:
        return f"inspection of {self.spring_id} on {self.on}"


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
