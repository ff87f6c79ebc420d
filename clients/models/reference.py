"""The clinical reference in force: versions of the rule set, and its terms as rows other tables point at."""

import uuid

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
    # What this version is for, in the words of whoever proposed it; empty for one that was loaded from files.
    note = models.CharField(max_length=200, blank=True)
    proposed_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    put_in_force_by = models.ForeignKey(
        "studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    put_in_force_at = models.DateTimeField(null=True, blank=True)
    reviewed_by = models.CharField(max_length=120, blank=True)
    profession = models.CharField(max_length=120, blank=True)
    reviewed_on = models.DateField(null=True, blank=True)
    # Which tables were read, in the reviewer's words.
    reviewed_what = models.CharField(max_length=300, blank=True)

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


class RuleChoice(models.Model):
    """The owner's choice at one point of the rules: which of two positions, or a line stricter than the table's."""

    # "regime", the id of a disagreement ("D01"), or a gate and its line ("G01.systolic"); see rules.adjusting.
    point = models.CharField(max_length=40)
    value = models.CharField(max_length=40)
    why = models.CharField(max_length=300)
    chosen_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, related_name="+")
    chosen_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("point", name="clients_rulechoice_one_open", condition=Q(ended_at=None)),
            models.CheckConstraint(condition=~Q(why=""), name="clients_rulechoice_has_why"),
        ]

    def __str__(self) -> str:
        return f"{self.point}: {self.value}"


class RuleRun(models.Model):
    """A pass of the rules over every active client, in batches: to compare a version, or to screen all anew."""

    class Kind(models.TextChoices):
        COMPARE = "compare"
        RESCREEN = "rescreen"

    class State(models.TextChoices):
        WAITING = "waiting"
        RUNNING = "running"
        DONE = "done"
        STOPPED = "stopped"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=10, choices=Kind)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    rule_set = models.ForeignKey(RuleSet, on_delete=models.PROTECT, related_name="runs")
    against = models.ForeignKey(RuleSet, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    why = models.CharField(max_length=200)
    total = models.PositiveIntegerField(default=0)
    done = models.PositiveIntegerField(default=0)
    changed = models.PositiveIntegerField(default=0)
    # Clients whose answers could not be screened; they keep what stood.
    failed = models.PositiveIntegerField(default=0)
    # The last client looked at: a run that was cut off goes on after it.
    after = models.UUIDField(null=True, blank=True)
    # How many went from which outcome to which: {"clear>refer": 3}.
    moves = models.JSONField(default=dict)
    asked_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    asked_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(done__lte=models.F("total"), changed__lte=models.F("done")), name="clients_rulerun_counts"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.done} of {self.total}"


class RuleRunLine(models.Model):
    """One client whose outcome or limits differ between two versions."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    run = models.ForeignKey(RuleRun, on_delete=models.CASCADE, related_name="lines")
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="+")
    # {before: outcome, after: outcome, limits: [{demand, side, before, after}]}, sealed with the client's key.
    sealed_change = models.BinaryField()

    class Meta:
        constraints = [models.UniqueConstraint("run", "client", name="clients_rulerunline_once")]

    def __str__(self) -> str:
        return f"{self.client_id} in {self.run_id}"
