"""Who may read a client's health, what the client agreed to, and how far she may go on each apparatus."""

from django.db import models
from django.db.models import Q

from studio.rules import ApparatusKind


class CareQuerySet(models.QuerySet["Care"]):
    def on(self, day: "models.DateField | object") -> "CareQuerySet":
        """Care that stands on a local day, both bounds included."""
        return self.filter(first_day__lte=day).filter(Q(last_day__isnull=True) | Q(last_day__gte=day))


class Care(models.Model):
    """An instructor may read this client's limits and notes on these days, and why."""

    person = models.ForeignKey("studio.Person", on_delete=models.CASCADE, related_name="cares")
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="cares")
    first_day = models.DateField()
    last_day = models.DateField(null=True, blank=True)
    why = models.CharField(max_length=120)
    # The row that gave it ("place:<key>", "program:<key>"), so that it can be taken back with it.
    source = models.CharField(max_length=60)

    objects = CareQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint("person", "client", "source", name="clients_care_once")]
        indexes = [models.Index("client", "person", name="clients_care_of")]

    def __str__(self) -> str:
        return f"{self.person_id} cares for {self.client_id}: {self.why}"


class Consent(models.Model):
    """One thing a client agreed to, dated; taking it back closes the row and keeps it."""

    class Kind(models.TextChoices):
        TOUCH = "touch", "guiding touch"
        PHOTOGRAPHS = "photographs"
        MESSAGES = "messages"

    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="consents")
    kind = models.CharField(max_length=12, choices=Kind)
    given_at = models.DateTimeField()
    # Who gave it: the client, or the guardian of a minor, by name; who noted it, when it was not the form itself.
    given_by = models.CharField(max_length=120, blank=True)
    form = models.ForeignKey(
        "clients.HealthForm", on_delete=models.SET_NULL, null=True, blank=True, related_name="consents"
    )
    noted_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawal_noted_by = models.ForeignKey(
        "studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint("client", "kind", name="clients_consent_one_open", condition=Q(withdrawn_at=None)),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None) | Q(withdrawn_at__gte=models.F("given_at")),
                name="clients_consent_withdrawn_after_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.client_id}"


class LevelCeiling(models.Model):
    """The highest level a client may be booked for on a kind of apparatus, signed by a teacher."""

    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="ceilings")
    apparatus_kind = models.CharField(max_length=10, choices=[(kind.value, kind.value) for kind in ApparatusKind])
    level = models.PositiveSmallIntegerField()
    signed_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    signed_on = models.DateField()

    class Meta:
        constraints = [
            models.UniqueConstraint("client", "apparatus_kind", name="clients_levelceiling_once"),
            models.CheckConstraint(condition=Q(level__gte=1, level__lte=5), name="clients_levelceiling_range"),
        ]

    def __str__(self) -> str:
        return f"{self.apparatus_kind} {self.level} for {self.client_id}"
