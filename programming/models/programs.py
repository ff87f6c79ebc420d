"""A client's dated copy of a template, fitted to this body and this machine."""

import uuid

from django.db import models
from django.db.models import Q

from programming.rules.marks import Decision


class Program(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.PROTECT, related_name="programs")
    template = models.ForeignKey("programming.Template", on_delete=models.PROTECT, related_name="programs")
    # The place it is meant for; a program without one is the client's standing program.
    place = models.ForeignKey("scheduling.Place", on_delete=models.SET_NULL, null=True, related_name="programs")
    apparatus = models.ForeignKey("scheduling.Apparatus", on_delete=models.PROTECT, related_name="+")
    minutes = models.PositiveSmallIntegerField()
    pace = models.CharField(max_length=10, default="working")
    # What it was fitted for: the machine and its springs, minutes. Compared when it is opened.
    fitted_for = models.JSONField(default=dict)
    # Fitted for today's check-in only; the client's next lesson is fitted without it.
    today_only = models.BooleanField(default=False)
    group_plan = models.ForeignKey(
        "programming.GroupPlan", on_delete=models.SET_NULL, null=True, blank=True, related_name="programs"
    )
    # Counts up with every line a teacher changes by hand: two at one program see that the other was there.
    revision = models.PositiveIntegerField(default=0)
    # Since when the nightly comparison finds that limits, machine, springs or minutes are not those it was fitted for.
    differs_since = models.DateTimeField(null=True, blank=True)
    # {limits: digest of the limits it was fitted for, lines: {position: {form, why: [{exercise_id, demand, level, rule,
    # because, source_ids, how}], demands}}}: the changed form in words and the why line, sealed with the client's key.
    # Empty when the client was erased.
    sealed_fit = models.BinaryField(null=True)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "place",
                name="programming_program_one_for_a_place",
                condition=Q(replaced_at=None, place__isnull=False),
            )
        ]
        indexes = [models.Index("client", "made_at", name="programming_program_of_client")]

    def __str__(self) -> str:
        return f"program {self.id} of {self.client_id}"


class ProgramLine(models.Model):
    """One fitted line. `exercise` is empty when the line was left out."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    program = models.ForeignKey(Program, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    planned = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, related_name="+")
    exercise = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, null=True, related_name="+")
    # The versions of the two rows it was fitted with: a change of the repertoire alters nothing already planned.
    planned_version = models.PositiveSmallIntegerField(default=1)
    exercise_version = models.PositiveSmallIntegerField(default=1)
    decision = models.CharField(max_length=12, choices=[(word.value, word.value) for word in Decision])
    # Letters of the springs on this machine, heavy first ("HML"); empty for mat and barrel.
    spring_set = models.CharField(max_length=12, blank=True)
    reps = models.PositiveSmallIntegerField()
    seconds = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint("program", "position", name="programming_programline_position_once"),
            models.CheckConstraint(
                condition=Q(decision="left_out", exercise=None) | (~Q(decision="left_out") & Q(exercise__isnull=False)),
                name="programming_programline_left_out_has_none",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position}: {self.exercise_id or 'left out'}"


class Waiver(models.Model):
    """Rule V1 set aside for one client and exercise: an equivalent was seen by a named teacher on a day."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="waivers")
    exercise = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, related_name="+")
    equivalent = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, null=True, related_name="+")
    sealed_reason = models.BinaryField(null=True)
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "client", "exercise", name="programming_waiver_one_open", condition=Q(taken_back_at=None)
            )
        ]

    def __str__(self) -> str:
        return f"waiver of {self.exercise_id} for {self.client_id}"


class Body(models.Model):
    """What a teacher notes of a client's build for set-ups and work: appended to, never edited; the last one counts."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="bodies")
    # {notes: [key of a body note], stature_mm, leg_mm, leg_on, sex}; sealed with the client's key.
    sealed_body = models.BinaryField(null=True)
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "bodies"
        constraints = [
            models.UniqueConstraint("client", name="programming_body_one_in_force", condition=Q(replaced_at=None))
        ]

    def __str__(self) -> str:
        return f"body of {self.client_id}"


class CheckIn(models.Model):
    """The minute before a lesson: what is sore today and how much. Sealed; it limits this day only."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey("clients.Client", on_delete=models.CASCADE, related_name="check_ins")
    place = models.ForeignKey("scheduling.Place", on_delete=models.PROTECT, related_name="check_ins")
    sealed_answers = models.BinaryField(null=True)
    by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("place", name="programming_checkin_one_in_force", condition=Q(replaced_at=None))
        ]

    def __str__(self) -> str:
        return f"check-in of {self.place_id}"


class GroupPlan(models.Model):
    """One shared plan for the people of a lesson; each person's own lines stand in her own program."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    lesson = models.ForeignKey("scheduling.Lesson", on_delete=models.PROTECT, related_name="group_plans")
    template = models.ForeignKey("programming.Template", on_delete=models.PROTECT, related_name="group_plans")
    minutes = models.PositiveSmallIntegerField()
    pace = models.CharField(max_length=10, default="working")
    # Separate instructions the teacher must give beside the shared ones: the least there can be.
    instructions = models.PositiveSmallIntegerField()
    # Whoever may do a line as planned joins the easier form of the others all the same.
    one_voice = models.BooleanField(default=False)
    # [{starts, seconds, begun: {key of a place: position of the line}}] in order; who is not named waits.
    rounds = models.JSONField(default=list)
    made_by = models.ForeignKey("studio.Person", on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "lesson", name="programming_groupplan_one_for_a_lesson", condition=Q(replaced_at=None)
            )
        ]

    def __str__(self) -> str:
        return f"group plan {self.id}"


class GroupLine(models.Model):
    """One shared line. `starts` and `seconds` are counted from the beginning of the lesson."""

    plan = models.ForeignKey(GroupPlan, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    exercise = models.ForeignKey("programming.Exercise", on_delete=models.PROTECT, related_name="+")
    starts = models.PositiveIntegerField()
    seconds = models.PositiveIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint("plan", "position", name="programming_groupline_position_once")]

    def __str__(self) -> str:
        return f"{self.plan_id} {self.position}"
