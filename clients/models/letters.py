"""Papers from clinicians: kept files, letters put into terms by a person, and the letters that are waited for."""

import uuid

from django.db import models
from django.db.models import Q


class StoredFile(models.Model):
    """A file kept sealed with the client's key, outside every served folder; its name is this row's key."""

    class Kind(models.TextChoices):
        LETTER = "letter"
        PHOTOGRAPH = "photograph"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="files")
    kind = models.CharField(max_length=10, choices=Kind)
    media_type = models.CharField(max_length=40)
    # Of the content before it was sealed, in bytes.
    size = models.PositiveIntegerField()
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)
    # A letter photographed page by page: the pages after the first point at it. A PDF holds all of its own.
    first_page = models.ForeignKey(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="further_pages"
    )
    page = models.PositiveSmallIntegerField(default=1)

    class Meta:
        constraints = [models.UniqueConstraint("first_page", "page", name="clients_storedfile_page_once")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.client_id}"


class Letter(models.Model):
    """A clinician's written word. It decides nothing until a named person has put it into terms."""

    class State(models.TextChoices):
        UNREAD = "unread", "not read yet"
        CONFIRMED = "confirmed"
        SET_ASIDE = "set_aside", "set aside"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="letters")
    state = models.CharField(max_length=10, choices=State, default=State.UNREAD)
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, related_name="+")
    routed_to = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    arrived_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    arrived_at = models.DateTimeField()
    # {clinician, profession, dated, until, answers: [rule id], effort, allows: [demand], forbids: [demand], words},
    # sealed with the client's key.
    sealed_terms = models.BinaryField(null=True, blank=True)
    # The last local day on which it clears or relaxes anything; what it forbids stays until a named person ends it.
    holds_until = models.DateField(null=True, blank=True)
    confirmed_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)
    # A named person ended what it forbids (and with it all else).
    ended_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="confirmed")
                | Q(
                    sealed_terms__isnull=False,
                    holds_until__isnull=False,
                    confirmed_by__isnull=False,
                    confirmed_at__isnull=False,
                ),
                name="clients_letter_confirmed_is_whole",
            ),
            models.CheckConstraint(
                condition=Q(ended_by=None, ended_at=None) | Q(ended_by__isnull=False, ended_at__isnull=False),
                name="clients_letter_ended_is_name_and_time",
            ),
        ]
        indexes = [models.Index("arrived_at", name="clients_letter_unread", condition=Q(state="unread"))]

    def __str__(self) -> str:
        return f"letter of {self.client_id}: {self.state}"


class LetterRequest(models.Model):
    """A client waits for a clinician's written word: since when, asked for how, reminded when."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="letter_requests")
    # [{rule_id, asks}]: what is asked and no more, sealed with the client's key.
    sealed_asks = models.BinaryField()
    opened_at = models.DateTimeField()
    printed_at = models.DateTimeField(null=True, blank=True)
    printed_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    reminders = models.PositiveSmallIntegerField(default=0)
    reminded_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_why = models.CharField(max_length=20, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("client", name="clients_letterrequest_one_open", condition=Q(closed_at=None))
        ]

    def __str__(self) -> str:
        return f"a letter is waited for, for {self.client_id}"
