"""What happened in the lesson, line by line, and where a client stands with each exercise."""

import uuid

from django.db import models
from django.db.models import Q

from programming.rules.marks import Mark, Standing


class Log(models.Model):
    """The log of one taught place. Finishing it closes the lesson for this client."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    program = models.ForeignKey("programming.Program", on_delete=models.PROTECT, related_name="logs")
    place = models.OneToOneField("scheduling.Place", on_delete=models.PROTECT, related_name="log")
    kept_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    # How hard the whole lesson felt, 0 to 10, asked about half an hour after; load is this times minutes.
    effort = models.PositiveSmallIntegerField(null=True, blank=True)
    effort_at = models.DateTimeField(null=True, blank=True)
    # Free words about a body: sealed with the client's key.
    sealed_note = models.BinaryField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(effort=None) | Q(effort__lte=10), name="programming_log_effort_to_ten"),
        ]

    def __str__(self) -> str:
        return f"log of {self.place_id}"


class LogLine(models.Model):
    """What was done of one program line; an undone mark is deleted, so a line has one or none."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    log = models.ForeignKey(Log, on_delete=models.CASCADE, related_name="lines")
    program_line = models.ForeignKey("programming.ProgramLine", on_delete=models.PROTECT, related_name="log_lines")
    mark = models.CharField(max_length=8, choices=[(mark.value, mark.value) for mark in Mark])
    reps = models.PositiveSmallIntegerField(null=True, blank=True)
    score = models.PositiveSmallIntegerField(null=True, blank=True)
    spring_set = models.CharField(max_length=12, blank=True)
    # {pain: 0-10, symptom, lasting}: what was felt at this line, sealed.
    sealed_felt = models.BinaryField(null=True, blank=True)
    sealed_note = models.BinaryField(null=True, blank=True)
    marked_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint("log", "program_line", name="programming_logline_once"),
            models.CheckConstraint(condition=Q(score=None) | Q(score__lte=5), name="programming_logline_score_to_five"),
        ]

    def __str__(self) -> str:
        return f"{self.program_line_id}: {self.mark}"


class Ownership(models.Model):
    """Where a client stands with an exercise; derived from the log, never typed."""

    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="ownerships")
    exercise = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, related_name="+")
    standing = models.CharField(max_length=10, choices=[(word.value, word.value) for word in Standing])
    introduced_on = models.DateField()
    last_on = models.DateField()
    times = models.PositiveIntegerField(default=0)
    clean_running = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint("client", "exercise", name="programming_ownership_once")]

    def __str__(self) -> str:
        return f"{self.exercise_id} {self.standing} by {self.client_id}"


class Grant(models.Model):
    """A senior teacher's word that a client owns an exercise, or does not any more; the log may speak after it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="grants")
    exercise = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, related_name="+")
    owned = models.BooleanField()
    sealed_reason = models.BinaryField(null=True)
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index("client", "exercise", name="programming_grant_of_client")]

    def __str__(self) -> str:
        return f"{self.exercise_id} {'granted to' if self.owned else 'withdrawn from'} {self.client_id}"


class StepDecision(models.Model):
    """What a teacher decided of a proposal: advance, repeat or step back, and what had been proposed."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="step_decisions")
    exercise = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, related_name="+")
    proposed = models.CharField(max_length=10)
    decided = models.CharField(max_length=10)
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index("client", "exercise", "at", name="programming_stepdecision_of")]

    def __str__(self) -> str:
        return f"{self.exercise_id}: {self.decided}"
