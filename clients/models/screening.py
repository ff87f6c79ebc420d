"""What screening found: the outcome, the conditions told, and the limits they put on movement."""

import uuid

from django.db import models
from django.db.models import Q

from clients.rules.outcomes import Outcome


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
    # {condition, side, since, needs_clearance, is_held}, sealed with the client's key.
    sealed_fact = models.BinaryField()
    # Condition and side under the client's own key: the same is told once, and nobody else can tell which it is.
    mark = models.CharField(max_length=64)
    state = models.CharField(max_length=10, choices=State, default=State.ACTIVE)
    rests_on = models.CharField(max_length=12, choices=RestsOn, default=RestsOn.OWN_WORD)
    form = models.ForeignKey("clients.HealthForm", on_delete=models.CASCADE, null=True, related_name="conditions")
    letter = models.ForeignKey("clients.Letter", on_delete=models.SET_NULL, null=True, related_name="conditions")
    # The record whose window had ended, and which a named person let this one take over from.
    follows = models.ForeignKey("self", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    recorded_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField()
    settled_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("client", "mark", name="clients_conditionrecord_once", condition=Q(state="active")),
            models.CheckConstraint(
                condition=Q(state="active", settled_by=None, settled_at=None)
                | Q(state="settled", settled_by__isnull=False, settled_at__isnull=False),
                name="clients_conditionrecord_settled_is_name_and_time",
            ),
        ]

    def __str__(self) -> str:
        return f"a condition of {self.client_id}: {self.state}"


class Screening(models.Model):
    """A decision of the rules about one signed form. At most one is open for a client."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="screenings")
    form = models.ForeignKey("clients.HealthForm", on_delete=models.CASCADE, related_name="screenings")
    rule_set = models.ForeignKey("clients.RuleSet", on_delete=models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=15, choices=[(word.value, word.value) for word in Outcome])
    # [{rule_id, kind, says, source_ids, strength}], sealed with the client's key.
    sealed_reasons = models.BinaryField()
    # {limits: [{demand, level, how, side, because, source_ids, strength, until}], relaxed: [{demand, letter_id, until,
    # level, because}], asked: the event the form is asked again for}, sealed with the client's key.
    sealed_limits = models.BinaryField()
    decided_at = models.DateTimeField()
    # Why the rules were asked: a form, a reading, a letter, the night, a new version.
    asked_for = models.CharField(max_length=20, default="form")
    valid_until = models.DateField()
    # The next local day on which the same answers may lead elsewhere; the nightly task looks then.
    look_again_on = models.DateField(null=True, blank=True)
    # The next local day on which a change comes within a month, to be told of ahead.
    look_ahead_on = models.DateField(null=True, blank=True)
    # The form is asked for again (nothing, a re-check, the whole form): until then nobody is booked on it. The why in
    # plain letters is "absence" or "event" and no more; which event it was stays sealed.
    asks_again = models.CharField(max_length=5, blank=True, choices=[("quick", "re-check"), ("full", "whole form")])
    asks_again_why = models.CharField(max_length=20, blank=True)
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("client", name="clients_screening_one_open", condition=Q(replaced_at=None))
        ]
        indexes = [
            models.Index("look_again_on", name="clients_screening_look_again", condition=Q(replaced_at=None)),
            models.Index("look_ahead_on", name="clients_screening_look_ahead", condition=Q(replaced_at=None)),
        ]

    def __str__(self) -> str:
        return f"{self.outcome} for {self.client_id}"


class Restriction(models.Model):
    """Movements that somebody who treats the client, or her teacher, wants left out, until a named person ends it."""

    class RestsOn(models.TextChoices):
        OWN_WORD = "own_word", "the client's own word"
        OBSERVATION = "observation", "the teacher's observation"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="restrictions")
    # {demands, level, side, told_at, words}, sealed with the client's key: `told_at` is the question that told it, or
    # empty; `words` are the client's own that a teacher put into these terms.
    sealed_terms = models.BinaryField()
    rests_on = models.CharField(max_length=12, choices=RestsOn)
    # The form that told it, or whose own words were put into these terms.
    form = models.ForeignKey("clients.HealthForm", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    # Nobody where the client ticked it on the form.
    noted_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    noted_at = models.DateTimeField()
    ended_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_by=None, ended_at=None) | Q(ended_by__isnull=False, ended_at__isnull=False),
                name="clients_restriction_ended_is_name_and_time",
            )
        ]

    def __str__(self) -> str:
        return f"a restriction of {self.client_id}"


class RestReading(models.Model):
    """Blood pressure and pulse taken by the studio at one sitting, seated and at rest."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="rest_readings")
    # {pressures: [[systolic, diastolic], ...], heart_rate, is_treated, has_signs, standing_drop, is_faint}, sealed;
    # mmHg and beats a minute.
    sealed_values = models.BinaryField()
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    # Mistyped: it stays, and no rule reads it any more.
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    def __str__(self) -> str:
        return f"readings of {self.client_id}"


class Coming(models.Model):
    """A change that the days alone will bring, found a month ahead: a limit begins, or a window ends."""

    class Kind(models.TextChoices):
        BEGINS = "begins"
        WINDOW_ENDS = "window_ends", "a window ends"
        LETTER_ENDS = "letter_ends", "a letter ends"
        FORM_ENDS = "form_ends", "the form ends"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="coming")
    kind = models.CharField(max_length=12, choices=Kind)
    day = models.DateField()
    # What changes, in words, sealed with the client's key; and the same under her key, to find it once.
    sealed_says = models.BinaryField()
    mark = models.CharField(max_length=64)
    found_at = models.DateTimeField()
    gone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("client", "mark", "day", name="clients_coming_once", condition=Q(gone_at=None))
        ]
        indexes = [models.Index("day", name="clients_coming_next", condition=Q(gone_at=None))]
        verbose_name_plural = "coming changes"

    def __str__(self) -> str:
        return f"{self.kind} on {self.day} for {self.client_id}"
