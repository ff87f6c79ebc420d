"""What was done and read, by whom; rows are only ever added (a trigger refuses the rest)."""

from django.db import models


class AuditEntry(models.Model):
    """One write, or one read of health text. Holds keys and verbs, never the text itself."""

    class Kind(models.TextChoices):
        WRITE = "write"
        READ = "read"

    at = models.DateTimeField()
    kind = models.CharField(max_length=5, choices=Kind, default=Kind.WRITE)
    person = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    # Who acted when it was nobody on the staff: "client by link", "night task".
    actor = models.CharField(max_length=60, blank=True)
    verb = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    key = models.CharField(max_length=40)
    client_key = models.UUIDField(null=True, blank=True)
    why = models.CharField(max_length=200, blank=True)
    detail = models.JSONField(default=dict, blank=True)

    class Meta:
        verbose_name_plural = "audit entries"
        indexes = [
            models.Index("model", "key", name="studio_audit_of_row"),
            models.Index("client_key", "at", name="studio_audit_of_client"),
            models.Index("at", name="studio_audit_at"),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.verb} {self.model} {self.key}"


class IdempotencyKey(models.Model):
    """An answer kept for a repeated request: the same intent by the same person is done once."""

    person = models.ForeignKey("studio.Person", on_delete=models.CASCADE)
    key = models.CharField(max_length=80)
    request_digest = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True)
    answer = models.JSONField(null=True)
    made_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint("person", "key", name="studio_idempotencykey_once")]

    def __str__(self) -> str:
        return self.key
