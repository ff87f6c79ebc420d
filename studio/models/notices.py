"""Messages to people: where they go, the owner's words, and the outbox that sends each at most once."""

import uuid

from django.db import models
from django.db.models import Q


class Contact(models.Model):
    """An address somebody may be written to; staff, clients and guardians point at one."""

    class Channel(models.TextChoices):
        MAIL = "mail"

    channel = models.CharField(max_length=10, choices=Channel, default=Channel.MAIL)
    address = models.EmailField(max_length=254)
    quiet_from = models.TimeField(null=True, blank=True)
    quiet_to = models.TimeField(null=True, blank=True)
    unsubscribed_at = models.DateTimeField(null=True, blank=True)
    bounced_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.address


class NoticeText(models.Model):
    """The owner's words for one kind of notice; `{name}` and the like are filled in when it is sent."""

    kind = models.CharField(max_length=40, primary_key=True)
    subject = models.CharField(max_length=200)
    body = models.TextField()

    def __str__(self) -> str:
        return self.kind


class Notice(models.Model):
    """One message in the outbox, written in the transaction of what it is about."""

    class State(models.TextChoices):
        WAITING = "waiting"
        CLAIMED = "claimed"
        SENDING = "sending"
        SENT = "sent"
        UNSURE = "unsure"
        FAILED = "failed"
        WITHDRAWN = "withdrawn"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=40)
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="notices")
    values = models.JSONField(default=dict)
    about = models.CharField(max_length=80, db_index=True)
    # The leave it may be sent by ("messages:<client>"), empty when none is needed: ended, it is taken back unsent.
    rests_on = models.CharField(max_length=80, blank=True)
    once = models.CharField(max_length=160, unique=True)
    due_at = models.DateTimeField()
    not_after = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    trouble = models.CharField(max_length=200, blank=True)
    made_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index("due_at", name="studio_notice_due", condition=Q(state__in=["waiting", "claimed", "sending"])),
            models.Index("rests_on", name="studio_notice_rests_on", condition=Q(state__in=["waiting", "claimed"])),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state__in=["claimed", "sending"]) | Q(lease_until__isnull=False),
                name="studio_notice_claim_has_lease",
            ),
            models.CheckConstraint(
                condition=~Q(state="sent") | Q(sent_at__isnull=False), name="studio_notice_sent_has_time"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} about {self.about}: {self.state}"
