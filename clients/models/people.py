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
    photograph = models.ForeignKey(
        "clients.StoredFile", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    # The client's own data key, wrapped by the master key: destroying it erases every sealed word.
    wrapped_key = models.BinaryField()
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    imported_in = models.ForeignKey(
        "clients.ClientImport", on_delete=models.SET_NULL, null=True, blank=True, related_name="clients"
    )
    archived_at = models.DateTimeField(null=True, blank=True)
    # A second card of the same person points at the one that was kept, and is archived.
    merged_into = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged")
    # The row of an erased client stays for use statistics, under a pseudonym and without a key.
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [
            models.Index(Lower("name_key"), name="clients_client_name_order"),
            GinIndex(OpClass("name_key", name="gin_trgm_ops"), name="clients_client_name_part"),
        ]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="clients_client_has_name"),
            models.CheckConstraint(
                condition=Q(erased_at=None) | Q(wrapped_key=b""), name="clients_client_erased_has_no_key"
            ),
            models.CheckConstraint(
                condition=Q(merged_into=None) | Q(archived_at__isnull=False),
                name="clients_client_merged_is_archived",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ClientImport(models.Model):
    """A list of clients read from a file: looked at first, then brought in whole or left."""

    class State(models.TextChoices):
        LOOKED_AT = "looked_at"
        BROUGHT_IN = "brought_in"
        TAKEN_BACK = "taken_back"
        LEFT = "left"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    file_name = models.CharField(max_length=120)
    state = models.CharField(max_length=12, choices=State, default=State.LOOKED_AT)
    # While it is looked at: {header, columns, days, lines: [[line, [cell, ...]], ...]}. Once brought in: {header, rest:
    # [[line, cells, why], ...], contacts: [key, ...]}, the rest forgotten with the next list. Else empty.
    rows = models.JSONField(default=list)
    good = models.PositiveIntegerField()
    refused = models.PositiveIntegerField()
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.file_name}: {self.state}"


class Merge(models.Model):
    """Two cards of one person made one: which rows moved, so that there is a way back."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kept = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="+")
    gone = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="+")
    # {model label: [key, ...]} of the rows that pointed at `gone`.
    moved = models.JSONField(default=dict)
    # The kept card as it was, and what rows held that the merge changed; sealed with the kept client's key.
    sealed_before = models.BinaryField()
    merged_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    merged_at = models.DateTimeField()
    undone_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("gone", name="clients_merge_one_open", condition=Q(undone_at=None)),
            models.CheckConstraint(condition=~Q(kept=models.F("gone")), name="clients_merge_of_two"),
        ]

    def __str__(self) -> str:
        return f"{self.gone_id} into {self.kept_id}"
