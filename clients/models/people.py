"""The client's card: what everyone at the desk may see."""

import uuid

from django.contrib.postgres.indexes import GinIndex, OpClass
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower


class Client(models.Model):
    """A person who comes here to move. Health words are never kept on this row."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120)
    # Written by the action from `name`: folded, without accents, so that any part of it is found.
    name_key = models.CharField(max_length=160)
    say_it = models.CharField(max_length=120, blank=True)
    pronoun = models.CharField(max_length=40, blank=True)
    born_on = models.DateField(null=True, blank=True)
    guardian_name = models.CharField(max_length=120, blank=True)
    contact = models.ForeignKey(
        "studio.Contact", on_delete=models.PROTECT, null=True, blank=True, related_name="clients"
    )
    phone = models.CharField(max_length=40, blank=True)
    emergency_name = models.CharField(max_length=120, blank=True)
    emergency_phone = models.CharField(max_length=40, blank=True)
    notes = models.TextField(max_length=2000, blank=True)
    usual_instructor = models.ForeignKey(
        "studio.Person", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    home = models.ForeignKey("studio.Studio", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    visits = models.PositiveIntegerField(default=0)
    last_visit = models.DateField(null=True, blank=True)
    # The client's own data key, wrapped by the master key: destroying it erases every sealed word.
    wrapped_key = models.BinaryField()
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    archived_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [
            models.Index(Lower("name_key"), name="clients_client_name_order"),
            GinIndex(OpClass("name_key", name="gin_trgm_ops"), name="clients_client_name_part"),
        ]
        constraints = [models.CheckConstraint(condition=~Q(name=""), name="clients_client_has_name")]

    def __str__(self) -> str:
        return self.name
