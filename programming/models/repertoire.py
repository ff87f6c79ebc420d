"""The studio's repertoire: what is practised here, and the ladders of easier and harder forms."""

import uuid

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from studio.rules import ApparatusKind


class Exercise(models.Model):
    """One part of an exercise, as it stands in this studio. `row` keeps every column of the reference as text."""

    id = models.CharField(max_length=12, primary_key=True)
    apparatus_kind = models.CharField(max_length=10, choices=[(kind.value, kind.value) for kind in ApparatusKind])
    order_in_apparatus = models.PositiveSmallIntegerField()
    series = models.CharField(max_length=80)
    position_in_series = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=120)
    part = models.CharField(max_length=160, blank=True)
    level = models.PositiveSmallIntegerField()
    family = models.CharField(max_length=60, blank=True)
    purpose = ArrayField(models.CharField(max_length=60))
    # All columns by name, exactly as `programming.rules.repertoire` reads them.
    row = models.JSONField()
    # Counts up with every change taken over here; `ExerciseVersion` keeps each one.
    version = models.PositiveSmallIntegerField(default=1)
    # The reference's columns last taken over; a row that differs from it was edited here and is kept on a reload.
    reference_row = models.JSONField(null=True, blank=True)
    edited_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    edited_at = models.DateTimeField(null=True, blank=True)
    # Who took it out of use; nobody when the reference dropped it.
    retired_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(level__gte=1, level__lte=5), name="programming_exercise_level"),
        ]
        indexes = [models.Index("apparatus_kind", "order_in_apparatus", name="programming_exercise_order")]

    def __str__(self) -> str:
        return f"{self.name}: {self.part}" if self.part else self.name


class ExerciseDemand(models.Model):
    """One demand an exercise makes; a removable one is taken away by its usual easier form."""

    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="exercise_demands")
    demand = models.ForeignKey("clients.Demand", on_delete=models.PROTECT, related_name="+")
    removable = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint("exercise", "demand", name="programming_exercisedemand_once")]

    def __str__(self) -> str:
        return f"{self.exercise_id} {self.demand_id}"


class ExerciseVersion(models.Model):
    """How an exercise read at one version. A program line names the version it was fitted with, for good."""

    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="versions")
    version = models.PositiveSmallIntegerField()
    row = models.JSONField()
    why = models.CharField(max_length=300, blank=True)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint("exercise", "version", name="programming_exerciseversion_once")]

    def __str__(self) -> str:
        return f"{self.exercise_id} version {self.version}"


class RepertoireProposal(models.Model):
    """A change of the repertoire that somebody asks for; the owner takes it over or turns it down, with words.

    `about` is a row ("exercise") or a step of a ladder ("step"); `key` its id or code. `columns` are the changed
    columns only; for a new one, all of them. `base_version` is the version it was made from (0 for a new one).
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    about = models.CharField(max_length=8, choices=[("exercise", "exercise"), ("step", "step of a ladder")])
    key = models.CharField(max_length=40)
    columns = models.JSONField()
    retires = models.BooleanField(default=False)
    base_version = models.PositiveSmallIntegerField(default=0)
    # The version that taking it over made; taking the decision back goes to the one before.
    made_version = models.PositiveSmallIntegerField(null=True, blank=True)
    why = models.CharField(max_length=300)
    proposed_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()
    decision = models.CharField(
        max_length=12,
        blank=True,
        choices=[("taken_over", "taken over"), ("turned_down", "turned down"), ("withdrawn", "withdrawn")],
    )
    answer = models.CharField(max_length=300, blank=True)
    decided_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(decision="", decided_at=None) | (~Q(decision="") & Q(decided_at__isnull=False)),
                name="programming_proposal_decided_on_a_day",
            )
        ]

    def __str__(self) -> str:
        return f"proposal for {self.key}"


class LadderStep(models.Model):
    """One step of a ladder: a set-up, an easier or harder form, a fault and the words for it, or a reason to stop."""

    code = models.CharField(max_length=40, primary_key=True)
    ladder = models.CharField(max_length=60)
    kind = models.CharField(max_length=20)
    position = models.PositiveSmallIntegerField()
    exercises = models.ManyToManyField(Exercise, related_name="ladder_steps")
    row = models.JSONField()
    # As for an exercise: the reference last taken over (empty for a step of our own), and who changed it here.
    version = models.PositiveSmallIntegerField(default=1)
    reference_row = models.JSONField(null=True, blank=True)
    edited_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    edited_at = models.DateTimeField(null=True, blank=True)
    retired_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    retired_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.code


class LadderStepVersion(models.Model):
    """How a step of a ladder read at one version."""

    step = models.ForeignKey(LadderStep, on_delete=models.CASCADE, related_name="versions")
    version = models.PositiveSmallIntegerField()
    row = models.JSONField()
    why = models.CharField(max_length=300, blank=True)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint("step", "version", name="programming_ladderstepversion_once")]

    def __str__(self) -> str:
        return f"{self.step_id} version {self.version}"


class RepertoireTable(models.Model):
    """A small table of the reference kept whole: pool rules, session times, default springs and the like."""

    name = models.CharField(max_length=60, primary_key=True)
    rows = models.JSONField()
    loaded_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name
