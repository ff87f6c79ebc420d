"""The clinical reference in force: versions of the rule set, and its terms as rows other tables point at."""

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q


class RuleSet(models.Model):
    """One whole version of the clinical tables, as loaded. Old versions stay: screenings point at them."""

    digest = models.CharField(max_length=64, unique=True)
    # {table: [row, ...]} exactly as the files hold them; `rules.Rulebook.from_tables` reads it.
    tables = models.JSONField()
    loaded_at = models.DateTimeField()
    in_force = models.BooleanField(default=False)
    reviewed_by = models.CharField(max_length=120, blank=True)
    profession = models.CharField(max_length=120, blank=True)
    reviewed_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("in_force", name="clients_ruleset_one_in_force", condition=Q(in_force=True)),
            models.CheckConstraint(
                condition=Q(reviewed_by="", profession="", reviewed_on=None)
                | (~Q(reviewed_by="") & ~Q(profession="") & Q(reviewed_on__isnull=False)),
                name="clients_ruleset_review_is_whole",
                violation_error_message="A review names the person, the profession and the day.",
            ),
        ]

    def __str__(self) -> str:
        return f"rule set {self.digest[:8]}"


class Source(models.Model):
    """Where a rule comes from and how it was checked."""

    id = models.CharField(max_length=60, primary_key=True)
    citation = models.TextField()
    year = models.CharField(max_length=10, blank=True)
    kind = models.CharField(max_length=40)
    how_checked = models.CharField(max_length=20)
    url_or_doi = models.CharField(max_length=200, blank=True)

    def __str__(self) -> str:
        return self.id


class Demand(models.Model):
    """What a movement asks that a body may not be able to give."""

    code = models.CharField(max_length=30, primary_key=True)
    name = models.CharField(max_length=80)
    definition = models.TextField()
    tag_if = models.TextField(blank=True)
    not_if = models.TextField(blank=True)
    default_adapt = models.TextField(blank=True)
    position = models.PositiveSmallIntegerField()

    def __str__(self) -> str:
        return self.name


class Condition(models.Model):
    """A condition a client may tell of; windows in days count from the event, onset or start of pregnancy."""

    id = models.CharField(max_length=10, primary_key=True)
    name = models.CharField(max_length=160)
    phase_or_window = models.CharField(max_length=160, blank=True)
    sided = models.BooleanField(default=False)
    next_condition = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    position = models.PositiveSmallIntegerField()

    def __str__(self) -> str:
        return self.name


class LimitRule(models.Model):
    """One line of the reference: this condition puts this limit on this demand."""

    condition = models.ForeignKey(Condition, on_delete=models.CASCADE, related_name="limit_rules")
    demand = models.ForeignKey(Demand, on_delete=models.PROTECT, related_name="+")
    level = models.CharField(max_length=5, choices=[(word, word) for word in ("avoid", "adapt", "watch")])
    how = models.TextField(blank=True)
    source_ids = ArrayField(models.CharField(max_length=60))
    strength = models.CharField(max_length=30)

    class Meta:
        constraints = [models.UniqueConstraint("condition", "demand", name="clients_limitrule_once")]

    def __str__(self) -> str:
        return f"{self.condition_id} {self.level} {self.demand_id}"
