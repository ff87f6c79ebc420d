"""Fit a template to a case that nobody has: the same rules as for a client, over reference ids; nothing is kept."""

from typing import Any

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from clients.rules.outcomes import Level
from programming.queries import cases
from programming.rules.fitting import FittedLine, FittedProgram
from programming.rules.lines import PlannedLine
from programming.rules.marks import Decision
from programming.rules.springs import SpringSet
from programming.rules.timing import Pace
from studio.doors.rest import DetailSerializer, RefusedSerializer
from studio.rules import ApparatusKind, Refused

NOT_OPEN = {401: DetailSerializer, 403: DetailSerializer, 404: DetailSerializer}
MOST_LINES = 90
KINDS = [kind.value for kind in ApparatusKind]


def _ids(words: str, **more: Any) -> serializers.ListField:
    return serializers.ListField(
        child=serializers.CharField(max_length=40), max_length=300, required=False, help_text=words, **more
    )


class FitLineSerializer(serializers.Serializer):
    """One planned line by its reference id; what is left out is as the repertoire says."""

    exercise = serializers.CharField(max_length=12, help_text="Reference id of the exercise, as R-HUN.")
    reps = serializers.IntegerField(
        min_value=1, max_value=200, required=False, help_text="As the row counts them: per side when it is per side."
    )
    springs = serializers.IntegerField(min_value=0, max_value=9, required=False, help_text="Of four alike springs.")
    adapted = serializers.BooleanField(default=False, help_text="In the usual easier form of the row.")


class FitLimitSerializer(serializers.Serializer):
    demand = serializers.CharField(max_length=40, help_text="Code of a demand, as wrist_wb.")
    level = serializers.ChoiceField(choices=[level.value for level in Level])


class FitLevelSerializer(serializers.Serializer):
    apparatus = serializers.ChoiceField(choices=KINDS)
    level = serializers.IntegerField(min_value=1, max_value=5)


class FitSerializer(serializers.Serializer):
    """What is fitted. A template or lines of its own; what is left out is not asked."""

    template = serializers.UUIDField(required=False, help_text="Key of a template.")
    lines: Any = serializers.ListSerializer(child=FitLineSerializer(), required=False, max_length=MOST_LINES)
    limits: Any = serializers.ListSerializer(child=FitLimitSerializer(), required=False, max_length=60)
    owned = _ids("Exercises owned, as R-FRO.")
    met = _ids("Exercises met before; without it nothing counts as new.", allow_null=True)
    waived = _ids("Exercises whose prerequisites somebody has waived.")
    body = _ids("Keys of body notes, as tall or stiff_shoulders.")
    levels: Any = serializers.ListSerializer(
        child=FitLevelSerializer(), required=False, max_length=5, help_text="Signed levels; without one no ceiling."
    )
    machine = serializers.IntegerField(
        min_value=1, max_value=2**31 - 1, required=False, help_text="Key of the machine whose springs and room count."
    )
    inventory = serializers.RegexField(
        r"\A[HML]{0,8}\Z", required=False, allow_blank=True, help_text="Or a reformer's springs, heavy first: HHMML."
    )
    at_hand = serializers.ListField(
        child=serializers.ChoiceField(choices=KINDS), required=False, max_length=5, help_text="Kinds in the room."
    )
    minutes = serializers.IntegerField(min_value=5, max_value=240, default=55)
    pace = serializers.ChoiceField(choices=[pace.value for pace in Pace], default=Pace.WORKING.value)


class FittedWhySerializer(serializers.Serializer):
    exercise = serializers.CharField()
    demand = serializers.CharField()
    level = serializers.ChoiceField(choices=[level.value for level in Level])
    rule = serializers.CharField()


class FittedLineSerializer(serializers.Serializer):
    planned = serializers.CharField()
    exercise = serializers.CharField(allow_null=True, help_text="null when it was left out.")
    decision = serializers.ChoiceField(choices=[word.value for word in Decision])
    form = serializers.CharField(allow_blank=True, help_text="The changed form in words.")
    steps = serializers.ListField(child=serializers.CharField(), help_text="Codes of the ladder steps it is done with.")
    set_up = serializers.ListField(child=serializers.CharField(), help_text="Set-ups for this body, in words.")
    springs = serializers.CharField(allow_blank=True, help_text="Letters, heavy first; empty where none are set.")
    spring_error = serializers.IntegerField(help_text="Units heavier (+) or lighter (-) than planned.")
    reps = serializers.IntegerField()
    seconds = serializers.FloatField()
    is_new = serializers.BooleanField()
    lost_aims = serializers.ListField(child=serializers.CharField())
    notes = serializers.ListField(child=serializers.CharField(), help_text="What else than a limit decided.")
    why = FittedWhySerializer(many=True)


class BlocksMostSerializer(serializers.Serializer):
    demand = serializers.CharField()
    lines = serializers.IntegerField()


class FittedSerializer(serializers.Serializer):
    """The whole lesson as fitted."""

    minutes = serializers.FloatField()
    is_proven = serializers.BooleanField(help_text="That nothing better exists.")
    cost = serializers.DictField(child=serializers.IntegerField(), help_text="What the soft goals came to, in order.")
    lost_aims = serializers.ListField(child=serializers.CharField())
    blocks_most = BlocksMostSerializer(many=True, help_text="What keeps most lines out, when nothing fits.")
    warnings = serializers.ListField(child=serializers.CharField())
    lines = FittedLineSerializer(many=True)


SORE_WRIST = OpenApiExample(
    "A sore wrist",
    value={
        "lines": [{"exercise": "R-FW1"}, {"exercise": "R-HUN"}, {"exercise": "R-KN1"}],
        "limits": [{"demand": "wrist_wb", "level": "avoid"}],
        "inventory": "HHMML",
        "body": ["tall"],
        "minutes": 30,
    },
    request_only=True,
)


class FitView(APIView):
    @extend_schema(
        operation_id="fit_program",
        summary="Fit a template to limits, a machine and a slot, without keeping it",
        request=FitSerializer,
        responses={200: FittedSerializer, 400: dict[str, Any], **NOT_OPEN, 409: RefusedSerializer},
        examples=[SORE_WRIST],
    )
    def post(self, request: Request) -> Response:
        asked = FitSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        given = asked.validated_data
        if ("template" in given) == bool(given.get("lines")):
            raise serializers.ValidationError({"lines": ["Name a template, or give its lines: one of the two."]})
        try:
            found = cases.fitted_case(_case(given))
        except Refused as refused:
            raise serializers.ValidationError({one.field: [one.says] for one in refused.reasons}) from refused
        return Response(FittedSerializer(_plain(found)).data)


def _case(given: dict[str, Any]) -> cases.FitCase:
    lines = [
        PlannedLine(str(place), line["exercise"], line.get("reps"), line.get("springs"), line["adapted"])
        for place, line in enumerate(given.get("lines", []), 1)
    ]
    met = given.get("met")
    return cases.FitCase(
        template_id=given.get("template"),
        lines=lines,
        levels={one["demand"]: Level(one["level"]) for one in given.get("limits", [])},
        owned=frozenset(given.get("owned", ())),
        met=None if met is None else frozenset(met),
        waived=frozenset(given.get("waived", ())),
        body=frozenset(given.get("body", ())),
        ceilings={ApparatusKind(one["apparatus"]): one["level"] for one in given.get("levels", [])},
        machine_id=given.get("machine"),
        springs=SpringSet.of(given["inventory"]) if "inventory" in given else None,
        kinds=frozenset(ApparatusKind(kind) for kind in given.get("at_hand", [])),
        minutes=given["minutes"],
        pace=Pace(given["pace"]),
    )


def _plain(found: FittedProgram) -> dict[str, Any]:
    return {
        "minutes": round(found.minutes, 2),
        "is_proven": found.is_proven,
        "cost": found.cost._asdict(),
        "lost_aims": found.lost_aims,
        "blocks_most": [{"demand": demand, "lines": lines} for demand, lines in found.blocks_most],
        "warnings": found.warnings,
        "lines": [_line(line) for line in found.lines],
    }


def _line(line: FittedLine) -> dict[str, Any]:
    return {
        "planned": line.planned_exercise_id,
        "exercise": line.exercise_id,
        "decision": line.decision.value,
        "form": line.form,
        "steps": line.steps,
        "set_up": line.setup,
        "springs": line.springs.letters if line.springs else "",
        "spring_error": line.spring_error,
        "reps": line.reps,
        "seconds": round(line.seconds, 2),
        "is_new": line.is_new,
        "lost_aims": line.lost_purposes,
        "notes": line.notes,
        "why": [
            {"exercise": one.exercise_id, "demand": one.demand, "level": one.level.value, "rule": one.rule.value}
            for one in line.why
        ],
    }
