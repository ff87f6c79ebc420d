"""A client's dated copy of a template, fitted to this body and this machine."""

import uuid

from django.db import models
from django.db.models import Q

from programming.rules.marks import Decision


class Program(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.PROTECT, related_name="programs")
    template = models.ForeignKey("programming.Template", on_delete=models.PROTECT, related_name="programs")
    # The place it is meant for; a program without one is the client's standing program.
    place = models.ForeignKey("scheduling.Place", on_delete=models.SET_NULL, null=True, related_name="programs")
    apparatus = models.ForeignKey("scheduling.Apparatus", on_delete=models.PROTECT, related_name="+")
    minutes = models.PositiveSmallIntegerField()
    pace = models.CharField(max_length=10, default="working")
    # What it was fitted for: the machine and its springs, minutes. Compared when it is opened.
    fitted_for = models.JSONField(default=dict)
    # {limits: digest of the limits it was fitted for, lines: {position: {form, why: [{exercise_id, demand, level, rule,
    # because, source_ids, how}], demands}}}: the changed form in words and the why line, sealed with the client's key.
    # Empty when the client was erased.
    sealed_fit = models.BinaryField(null=True)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "place",
                name="programming_program_one_for_a_place",
                condition=Q(replaced_at=None, place__isnull=False),
            )
        ]
        indexes = [models.Index("client", "made_at", name="programming_program_of_client")]

    def __str__(self) -> str:
        return f"program {self.id} of {self.client_id}"


class ProgramLine(models.Model):
    """One fitted line. `exercise` is empty when the line was left out."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    program = models.ForeignKey(Program, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    planned = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, related_name="+")
    exercise = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, null=True, related_name="+")
    decision = models.CharField(max_length=12, choices=[(word.value, word.value) for word in Decision])
    # Letters of the springs on this machine, heavy first ("HML"); empty for mat and barrel.
    spring_set = models.CharField(max_length=12, blank=True)
    reps = models.PositiveSmallIntegerField()
    seconds = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint("program", "position", name="programming_programline_position_once"),
            models.CheckConstraint(
                condition=Q(decision="left_out", exercise=None) | (~Q(decision="left_out") & Q(exercise__isnull=False)),
                name="programming_programline_left_out_has_none",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position}: {self.exercise_id or 'left out'}"
