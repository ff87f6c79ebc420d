"""Templates: what the studio plans, in order. A version that was used is never edited; a change makes the next."""

import uuid

from django.db import models
from django.db.models import Q

from studio.rules import ApparatusKind


class Template(models.Model):
    class State(models.TextChoices):
        DRAFT = "draft"
        PROPOSED = "proposed"
        ACTIVE = "active"
        RETIRED = "retired"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120)
    aim = models.CharField(max_length=200, blank=True)
    apparatus_kind = models.CharField(max_length=10, choices=[(kind.value, kind.value) for kind in ApparatusKind])
    level = models.PositiveSmallIntegerField()
    minutes = models.PositiveSmallIntegerField(default=55)
    version = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=8, choices=State, default=State.DRAFT)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    # Counts up with every change of a draft: two people at one draft see that the other was there.
    revision = models.PositiveIntegerField(default=0)
    copied_from = models.ForeignKey("self", on_delete=models.SET_NULL, null=True, blank=True, related_name="copies")
    # The owner's word on it: approved, or sent back to its maker with words.
    decided_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)
    answer = models.CharField(max_length=300, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("name", "version", name="programming_template_version_once"),
            models.CheckConstraint(condition=Q(level__gte=1, level__lte=5), name="programming_template_level"),
        ]

    def __str__(self) -> str:
        return self.name


class TemplateLine(models.Model):
    template = models.ForeignKey(Template, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    exercise = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, related_name="+")
    # Counts of the reference; empty means the usual of the repertoire.
    springs = models.PositiveSmallIntegerField(null=True, blank=True)
    reps = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    # Neighbouring lines of one number were put in together and are moved together.
    block = models.PositiveSmallIntegerField(default=0)
    # Done in the usual easier form; single keys of the set-up that differ from the repertoire's.
    adapted = models.BooleanField(default=False)
    setup = models.JSONField(default=dict, blank=True)
    extra_one_side = models.PositiveSmallIntegerField(default=0)
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint("template", "position", name="programming_templateline_position_once")]

    def __str__(self) -> str:
        return f"{self.template_id} {self.position}: {self.exercise_id}"


class TemplateOverride(models.Model):
    """A warning of the rules that somebody lets stand for one version, with a reason. No line: the whole template."""

    template = models.ForeignKey(Template, on_delete=models.CASCADE, related_name="overrides")
    rule = models.CharField(max_length=4)
    position = models.PositiveSmallIntegerField(null=True, blank=True)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["template", "rule", "position"],
                name="programming_templateoverride_once",
                nulls_distinct=False,
            )
        ]

    def __str__(self) -> str:
        return f"{self.template_id}: {self.rule} may stand"


class TemplateChange(models.Model):
    """One change of a draft, with its lines before and after it: what the other teacher did, and the way back."""

    template = models.ForeignKey(Template, on_delete=models.CASCADE, related_name="changes")
    # The revision the draft had once this was done, or taken back.
    revision = models.PositiveIntegerField()
    says = models.CharField(max_length=200)
    before = models.JSONField()
    after = models.JSONField()
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    # Who took it back; until the next change it can be done again.
    undone_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint("template", "revision", name="programming_templatechange_once")]

    def __str__(self) -> str:
        return f"{self.template_id} revision {self.revision}"
