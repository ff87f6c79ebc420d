"""Who teaches what, and when."""

from django.contrib.postgres.fields import DateTimeRangeField
from django.db import models
from django.db.models import F, Q

from scheduling.models.apparatus import KINDS
from studio.models.places import WEEKDAYS


class Instructor(models.Model):
    """A person as a teacher."""

    person = models.OneToOneField("studio.Person", on_delete=models.PROTECT, related_name="instructor")
    initials = models.CharField(max_length=4)
    # What she is cleared for, by need ("pregnancy", "older_adult", …); matched behind the openings, never shown there.
    needs = models.JSONField(default=list, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "initials",
                name="scheduling_instructor_initials_once",
                violation_error_message="Another instructor has these initials.",
            )
        ]

    def __str__(self) -> str:
        return self.initials


class MayTeach(models.Model):
    """How far an instructor is cleared on one kind of apparatus."""

    instructor = models.ForeignKey(Instructor, on_delete=models.CASCADE, related_name="may_teach")
    apparatus_kind = models.CharField(max_length=10, choices=KINDS)
    level = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint("instructor", "apparatus_kind", name="scheduling_mayteach_once"),
            models.CheckConstraint(condition=Q(level__gte=1, level__lte=5), name="scheduling_mayteach_range"),
        ]

    def __str__(self) -> str:
        return f"{self.instructor} {self.apparatus_kind} {self.level}"


class Hours(models.Model):
    """One working stretch of a weekday at one studio, in that studio's wall time."""

    instructor = models.ForeignKey(Instructor, on_delete=models.CASCADE, related_name="hours")
    studio = models.ForeignKey("studio.Studio", on_delete=models.PROTECT, related_name="+")
    weekday = models.PositiveSmallIntegerField(choices=WEEKDAYS)
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        verbose_name_plural = "hours"
        constraints = [
            models.UniqueConstraint("instructor", "weekday", "starts", name="scheduling_hours_once"),
            models.CheckConstraint(
                condition=Q(ends__gt=F("starts")) & Q(weekday__lte=6),
                name="scheduling_hours_end_after",
                violation_error_message="The day ends after it starts.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.instructor} {self.get_weekday_display()} {self.starts:%H:%M}-{self.ends:%H:%M}"


class TimeOff(models.Model):
    instructor = models.ForeignKey(Instructor, on_delete=models.CASCADE, related_name="time_off")
    during = DateTimeRangeField()
    why = models.CharField(max_length=120, blank=True)
    made_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "time off"
        constraints = [
            models.CheckConstraint(
                condition=Q(during__isempty=False) & Q(during__lower_inc=True) & Q(during__upper_inc=False),
                name="scheduling_timeoff_half_open",
            )
        ]

    def __str__(self) -> str:
        return f"{self.instructor} off"
