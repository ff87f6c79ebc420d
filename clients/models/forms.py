"""The health form: a private link to it, and its versions."""

import uuid

from django.db import models
from django.db.models import Q


class FormKind(models.TextChoices):
    FULL = "full"
    QUICK = "quick", "re-check"


class FormLink(models.Model):
    """A private link to one client's form. Only a digest of the token is kept."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="form_links")
    token_digest = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    kind = models.CharField(max_length=5, choices=FormKind, default=FormKind.FULL)
    # A member of staff who types in a paper form or what she is told; only she may use the link then.
    told_to = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    opened_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"form link of {self.client_id}"


class HealthForm(models.Model):
    """One version of a client's answers. A signed version never changes; a change makes the next one."""

    class State(models.TextChoices):
        DRAFT = "draft"
        SIGNED = "signed"
        REPLACED = "replaced"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="health_forms")
    version = models.PositiveIntegerField()
    kind = models.CharField(max_length=5, choices=FormKind, default=FormKind.FULL)
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    # JSON of the answers by field id, sealed with the client's key and bound to this row.
    sealed_answers = models.BinaryField()
    # The screen the person was on, so that a saved form opens where it was left.
    at_screen = models.CharField(max_length=40, blank=True)
    saves = models.PositiveIntegerField(default=0)
    started_at = models.DateTimeField()
    saved_at = models.DateTimeField()
    # The local day of the last whole form: a re-check confirms its answers and does not make them younger.
    whole_on = models.DateField(null=True, blank=True)
    told_to = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    # The day written under a paper form that was typed in.
    on_paper_of = models.DateField(null=True, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_name = models.CharField(max_length=120, blank=True)
    signed_as = models.CharField(
        max_length=10,
        blank=True,
        choices=[("client", "client"), ("guardian", "guardian"), ("staff", "as told to staff")],
    )

    class Meta:
        constraints = [
            models.UniqueConstraint("client", "version", name="clients_healthform_version_once"),
            models.UniqueConstraint("client", name="clients_healthform_one_draft", condition=Q(state="draft")),
            models.UniqueConstraint("client", name="clients_healthform_one_signed", condition=Q(state="signed")),
            models.CheckConstraint(
                condition=Q(state="draft", signed_at=None, signed_name="")
                | (~Q(state="draft") & Q(signed_at__isnull=False) & ~Q(signed_name="") & ~Q(signed_as="")),
                name="clients_healthform_signed_is_name_and_time",
            ),
        ]

    def __str__(self) -> str:
        return f"form {self.version} of {self.client_id}: {self.state}"
