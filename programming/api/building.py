"""Judge and time a program that is not kept: the same rules as the builder's page, over reference ids."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from programming.queries import judging
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace
from programming.rules.validation import Severity
from studio.doors.rest import DetailSerializer, RefusedSerializer

NOT_OPEN = {401: DetailSerializer, 403: DetailSerializer, 404: DetailSerializer}
MOST_LINES = 90


class PlannedLineSerializer(serializers.Serializer):
    """One line by its reference id; what is left out is as the repertoire says."""

    exercise = serializers.RegexField("^[A-Za-z0-9-]{1,12}$", help_text="Reference id of the exercise, as R-HUN.")
    reps = serializers.IntegerField(
        min_value=1, max_value=200, required=False, help_text="As the row counts them: per side when it is per side."
    )
    springs = serializers.IntegerField(
        min_value=0, max_value=9, required=False, help_text="Count of four alike springs; own springs elsewhere."
    )
    adapted = serializers.BooleanField(default=False, help_text="In the usual easier form of the row.")
    setup = serializers.DictField(
        child=serializers.RegexField("^[a-z_]{1,40}$"),
        required=False,
        help_text="Single keys that differ, as headrest.",
    )
    extra_one_side = serializers.IntegerField(min_value=0, max_value=3, default=0)
    has_reason = serializers.BooleanField(
        default=False, help_text="Whether the extra on one side has a written reason."
    )


class ProgramSerializer(serializers.Serializer):
    """A program to be looked at; nothing of it is kept."""

    lines = serializers.ListField(child=PlannedLineSerializer(), min_length=1, max_length=MOST_LINES)
    minutes = serializers.IntegerField(min_value=1, max_value=240, default=55, help_text="Minutes of the lesson.")
    pace = serializers.ChoiceField(choices=[pace.value for pace in Pace], default=Pace.WORKING.value)
    new_exercises = serializers.IntegerField(
        min_value=0, max_value=90, default=0, help_text="How many of the exercises this client has not met."
    )


class ValidateSerializer(ProgramSerializer):
    machine = serializers.IntegerField(
        min_value=1, max_value=2**31 - 1, required=False, help_text="Key of the reformer whose springs are judged."
    )
    inventory = serializers.RegexField(
        "^[HML]{0,8}$", required=False, allow_blank=True, help_text="Or its springs as letters, heavy first: HHMML."
    )


class FindingSerializer(serializers.Serializer):
    rule = serializers.CharField(help_text="V1 to V10.")
    severity = serializers.ChoiceField(choices=[one.value for one in Severity])
    line = serializers.IntegerField(allow_null=True, help_text="From 1; null when it is about the whole.")
    says = serializers.CharField()


class ReportSerializer(serializers.Serializer):
    blocks = serializers.BooleanField(help_text="Whether it could be put in use as it is.")
    findings = FindingSerializer(many=True)


class TimedLineSerializer(serializers.Serializer):
    exercise = serializers.CharField()
    begins = serializers.FloatField(help_text="Seconds after the lesson's start.")
    seconds = serializers.FloatField()
    spring_changes = serializers.IntegerField()
    set_up_changes = serializers.IntegerField()


class ExposureSerializer(serializers.Serializer):
    demand = serializers.CharField()
    seconds = serializers.FloatField(help_text="Movement alone, in the lesson or in its longest unbroken run.")
    ceiling = serializers.FloatField(help_text="Applies to a client whose limits name the demand.")
    is_run = serializers.BooleanField()


class TimeSerializer(serializers.Serializer):
    """The sums of a lesson, arrival and close among them; seconds throughout."""

    seconds = serializers.FloatField()
    slot = serializers.FloatField()
    fit = serializers.ChoiceField(choices=["fits", "warn", "block"])
    spring_changes = serializers.IntegerField()
    set_up_changes = serializers.IntegerField()
    box_fetches = serializers.IntegerField()
    flexion = serializers.IntegerField()
    extension = serializers.IntegerField()
    lines = TimedLineSerializer(many=True)
    exposure = ExposureSerializer(many=True)


class ValidateView(APIView):
    @extend_schema(
        operation_id="validate_program",
        summary="What the rules say of a program, without keeping it",
        request=ValidateSerializer,
        responses={200: ReportSerializer, 400: dict[str, Any], **NOT_OPEN, 409: RefusedSerializer},
    )
    def post(self, request: Request) -> Response:
        given = _read(ValidateSerializer, request)
        inventory = SpringSet.of(given["inventory"]) if "inventory" in given else None
        found = judging.judged(_asked(given), machine_id=given.get("machine"), inventory=inventory)
        return Response(ReportSerializer(found).data)


class TimeView(APIView):
    @extend_schema(
        operation_id="time_program",
        summary="How long a program takes and what it changes, without keeping it",
        request=ProgramSerializer,
        responses={200: TimeSerializer, 400: dict[str, Any], **NOT_OPEN, 409: RefusedSerializer},
    )
    def post(self, request: Request) -> Response:
        given = _read(ProgramSerializer, request)
        return Response(TimeSerializer(judging.timed(_asked(given))).data)


def _read(shape: type[serializers.Serializer], request: Request) -> dict[str, Any]:
    wanted = shape(data=request.data)
    wanted.is_valid(raise_exception=True)
    return dict(wanted.validated_data)


def _asked(given: dict[str, Any]) -> judging.Asked:
    lines = [judging.AskedLine(**{"setup": {}} | line) for line in given["lines"]]
    return judging.Asked(tuple(lines), given["minutes"], Pace(given["pace"]), given["new_exercises"])
