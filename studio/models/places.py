"""The business, its locations and when they are open."""

from django.contrib.postgres.fields import ArrayField
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

WEEKDAYS = [
    (0, "Monday"),
    (1, "Tuesday"),
    (2, "Wednesday"),
    (3, "Thursday"),
    (4, "Friday"),
    (5, "Saturday"),
    (6, "Sunday"),
]


def usual_reminders() -> list[int]:
    return [48, 3]


class Business(models.Model):
    """The one business that uses this house; its locations share clients and people."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    name = models.CharField(max_length=120)
    emergency_number = models.CharField(max_length=20, default="112")
    set_up_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "businesses"
        constraints = [models.CheckConstraint(condition=Q(id=1), name="studio_business_only_one")]

    def __str__(self) -> str:
        return self.name


class Studio(models.Model):
    """A location with its own clock, hours and policy."""

    business = models.ForeignKey(Business, on_delete=models.PROTECT, related_name="studios")
    name = models.CharField(max_length=80, unique=True)
    time_zone = models.CharField(max_length=64)
    address = models.CharField(max_length=200, blank=True)
    position = models.PositiveSmallIntegerField(default=0)
    lesson_minutes = models.PositiveSmallIntegerField(
        default=55, validators=[MinValueValidator(15), MaxValueValidator(240)]
    )
    turnaround_minutes = models.PositiveSmallIntegerField(default=5, validators=[MaxValueValidator(60)])
    cancel_hours = models.PositiveSmallIntegerField(default=12, validators=[MaxValueValidator(168)])
    reminder_hours = ArrayField(models.PositiveSmallIntegerField(), default=usual_reminders)
    closed_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(lesson_minutes__gte=15, lesson_minutes__lte=240), name="studio_studio_lesson_minutes"
            )
        ]

    def __str__(self) -> str:
        return self.name


class OpeningHours(models.Model):
    """One open stretch of a weekday, in wall time of the studio's zone; a weekday without one is closed."""

    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="opening_hours")
    weekday = models.PositiveSmallIntegerField(choices=WEEKDAYS)
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        verbose_name_plural = "opening hours"
        constraints = [
            models.UniqueConstraint("studio", "weekday", "opens", name="studio_openinghours_once"),
            models.CheckConstraint(
                condition=Q(closes__gt=F("opens")) & Q(weekday__lte=6),
                name="studio_openinghours_closes_after",
                violation_error_message="The studio closes after it opens.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.studio} {self.get_weekday_display()} {self.opens:%H:%M}-{self.closes:%H:%M}"


class Closure(models.Model):
    """Local days on which a studio stays shut, both named days included."""

    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="closures")
    first_day = models.DateField()
    last_day = models.DateField()
    why = models.CharField(max_length=120)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")),
                name="studio_closure_ends_after",
                violation_error_message="The last day cannot be before the first.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.studio} closed {self.first_day} to {self.last_day}"
