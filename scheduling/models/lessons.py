"""Lessons and the places in them. The database has the last word on what may happen at once."""

import uuid

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models
from django.db.models import Q

from scheduling.rules.places import HOLDING, LessonKind, PlaceState

HALF_OPEN = Q(during__isempty=False) & Q(during__lower_inc=True) & Q(during__upper_inc=False)


class LessonQuerySet(models.QuerySet["Lesson"]):
    def live(self) -> "LessonQuerySet":
        return self.filter(live=True)

    def touching(self, start: object, end: object) -> "LessonQuerySet":
        """Lessons that share an instant with `[start, end)`; the bounds let the b-tree on the start serve the day."""
        return self.filter(during__startswith__lt=end, during__endswith__gt=start)


class Lesson(models.Model):
    """A teacher, a span and a room; people hold places in it. `live` is false once it is cancelled."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    studio = models.ForeignKey("studio.Studio", on_delete=models.PROTECT, related_name="lessons")
    room = models.ForeignKey("scheduling.Room", on_delete=models.PROTECT, related_name="lessons")
    kind = models.CharField(max_length=12, choices=[(kind.value, kind.value) for kind in LessonKind])
    during = DateTimeRangeField()
    live = models.BooleanField(default=True)
    instructor = models.ForeignKey("scheduling.Instructor", on_delete=models.PROTECT, related_name="lessons")
    seats = models.PositiveSmallIntegerField(default=1)
    version = models.PositiveIntegerField(default=1)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    completed_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    objects = LessonQuerySet.as_manager()

    class Meta:
        constraints = [
            ExclusionConstraint(
                name="scheduling_lesson_instructor_free",
                expressions=[("instructor", RangeOperators.EQUAL), ("during", RangeOperators.OVERLAPS)],
                condition=Q(live=True),
                violation_error_message="That teacher already teaches then.",
            ),
            models.CheckConstraint(condition=HALF_OPEN, name="scheduling_lesson_half_open"),
            models.CheckConstraint(condition=Q(seats__gte=1, seats__lte=6), name="scheduling_lesson_seats"),
            models.CheckConstraint(
                condition=Q(live=True, cancelled_at=None) | Q(live=False, cancelled_at__isnull=False),
                name="scheduling_lesson_cancelled_has_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} lesson {self.id}"


class Place(models.Model):
    """One client on one apparatus in one lesson.

    It carries the lesson's span and liveness under a composite foreign key (see the migration), because an exclusion
    constraint cannot look into another table; ON UPDATE CASCADE keeps them equal.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    lesson = models.ForeignKey(Lesson, on_delete=models.PROTECT, related_name="places")
    during = DateTimeRangeField()
    live = models.BooleanField(default=True)
    client = models.ForeignKey("clients.Client", on_delete=models.PROTECT, related_name="places")
    apparatus = models.ForeignKey("scheduling.Apparatus", on_delete=models.PROTECT, related_name="places")
    state = models.CharField(
        max_length=14, choices=[(state.value, state.value) for state in PlaceState], default=PlaceState.BOOKED
    )
    state_at = models.DateTimeField()
    # The form runs out before the lesson: booked, and to be renewed before it starts.
    form_runs_out = models.BooleanField(default=False)
    first_visit = models.BooleanField(default=False)
    booked_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    booked_at = models.DateTimeField()
    visit_counted = models.BooleanField(default=False)

    class Meta:
        constraints = [
            ExclusionConstraint(
                name="scheduling_place_apparatus_free",
                expressions=[("apparatus", RangeOperators.EQUAL), ("during", RangeOperators.OVERLAPS)],
                condition=Q(live=True, state__in=[state.value for state in HOLDING]),
                violation_error_message="That apparatus is already booked then.",
            ),
            ExclusionConstraint(
                name="scheduling_place_client_free",
                expressions=[("client", RangeOperators.EQUAL), ("during", RangeOperators.OVERLAPS)],
                condition=Q(live=True, state__in=[state.value for state in HOLDING]),
                violation_error_message="That client is already booked then.",
            ),
            models.CheckConstraint(condition=HALF_OPEN, name="scheduling_place_half_open"),
        ]
        indexes = [models.Index("client", "state_at", name="scheduling_place_of_client")]

    def __str__(self) -> str:
        return f"place {self.id}: {self.state}"
