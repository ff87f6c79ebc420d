"""What screening found: the outcome, the conditions told, and the limits they put on movement."""

import uuid

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from clients.rules.outcomes import Level, Outcome

SIDES = [("left", "left"), ("right", "right"), ("both", "both")]


class ConditionRecord(models.Model):
    """A condition a client has or had. A window that ends never settles it; a named person does."""

    class State(models.TextChoices):
        ACTIVE = "active"
        SETTLED = "settled"

    class RestsOn(models.TextChoices):
        OWN_WORD = "own_word", "the client's own word"
        OBSERVATION = "observation", "the teacher's observation"
        LETTER = "letter", "a clinician's letter"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="conditions")
    condition = models.ForeignKey("clients.Condition", on_delete=models.PROTECT, related_name="+")
    side = models.CharField(max_length=5, blank=True, choices=SIDES)
    since = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.ACTIVE)
    rests_on = models.CharField(max_length=12, choices=RestsOn, default=RestsOn.OWN_WORD)
    form = models.ForeignKey("clients.HealthForm", on_delete=models.CASCADE, null=True, related_name="conditions")
    recorded_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField()
    settled_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "client", "condition", "side", name="clients_conditionrecord_once", condition=Q(state="active")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.condition_id} of {self.client_id}: {self.state}"


class Screening(models.Model):
    """A decision of the rules about one signed form. At most one is open for a client."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="screenings")
    form = models.ForeignKey("clients.HealthForm", on_delete=models.CASCADE, related_name="screenings")
    rule_set = models.ForeignKey("clients.RuleSet", on_delete=models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=15, choices=[(word.value, word.value) for word in Outcome])
    # [{rule_id, kind, says, source_ids, strength}], sealed with the client's key.
    sealed_reasons = models.BinaryField()
    decided_at = models.DateTimeField()
    valid_until = models.DateField()
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("client", name="clients_screening_one_open", condition=Q(replaced_at=None))
        ]

    def __str__(self) -> str:
        return f"{self.outcome} for {self.client_id}"


class Limit(models.Model):
    """One demand this client meets only so, or not at all; with the path that leads to it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="limits")
    screening = models.ForeignKey(Screening, on_delete=models.CASCADE, related_name="limits")
    demand = models.ForeignKey("clients.Demand", on_delete=models.PROTECT, related_name="+")
    level = models.CharField(max_length=5, choices=[(word.value, word.value) for word in Level])
    side = models.CharField(max_length=5, blank=True, choices=SIDES)
    how = models.TextField(blank=True)
    because = ArrayField(models.CharField(max_length=10))
    source_ids = ArrayField(models.CharField(max_length=60))
    strength = models.CharField(max_length=30, blank=True)
    until = models.DateField(null=True, blank=True)

    class Meta:
        # The two sides of a demand may differ; then each has its own row.
        constraints = [models.UniqueConstraint("screening", "demand", "side", name="clients_limit_once")]

    def __str__(self) -> str:
        return f"{self.level} {self.demand_id} for {self.client_id}"
