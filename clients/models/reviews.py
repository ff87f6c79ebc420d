"""Reassessments that are due by lessons or by weeks, whichever comes first."""

import uuid

from django.db import models
from django.db.models import Q


class Review(models.Model):
    class Kind(models.TextChoices):
        SHORT = "short_review", "short review"
        FULL = "full_reassessment", "full reassessment"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="reviews")
    kind = models.CharField(max_length=20, choices=Kind)
    counted_from = models.DateField()
    visits_then = models.PositiveIntegerField()
    due_on = models.DateField()
    due_visits = models.PositiveIntegerField()
    # Set by the task when it comes due; from then it is on the instructor's and owner's lists.
    raised_at = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint("client", "kind", name="clients_review_one_open", condition=Q(done_at=None))
        ]
        indexes = [models.Index("due_on", name="clients_review_waiting", condition=Q(done_at=None, raised_at=None))]

    def __str__(self) -> str:
        return f"{self.kind} of {self.client_id} due {self.due_on}"
