"""The group plan of a lesson: read it, or have it made anew."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from programming.actions import groups as actions
from programming.api.run_sheet import KEY, NOT_OPEN
from programming.queries import groups as group_queries
from programming.queries.groups import GroupView, RoundRow, SharedLine
from programming.rules.marks import Decision
from programming.rules.timing import Pace
from studio.doors import me
from studio.doors.rest import RefusedSerializer, once

MOST_LINES = 200


class GroupWishSerializer(serializers.Serializer):
    """What a group plan is made of."""

    template = serializers.UUIDField()
    pace = serializers.ChoiceField(choices=[pace.value for pace in Pace], default=Pace.WORKING.value)
    one_voice = serializers.BooleanField(
        default=False, help_text="Whoever could do a line as planned joins the easier form of the others."
    )
    without = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=MOST_LINES),
        default=list,
        max_length=MOST_LINES,
        help_text="Positions of template lines left out for everybody.",
    )


class GroupPersonSerializer(serializers.Serializer):
    place = serializers.UUIDField()
    program = serializers.UUIDField()


class GroupCellSerializer(serializers.Serializer):
    place = serializers.UUIDField()
    decision = serializers.ChoiceField(choices=[word.value for word in Decision])
    exercise = serializers.CharField(allow_blank=True)
    springs = serializers.CharField(allow_blank=True)
    reps = serializers.CharField(allow_blank=True)
    differs = serializers.BooleanField(help_text="Has to be said apart from what the others do.")


class GroupLineSerializer(serializers.Serializer):
    no = serializers.IntegerField()
    exercise = serializers.CharField()
    people = GroupCellSerializer(many=True)


class GroupBegunSerializer(serializers.Serializer):
    place = serializers.UUIDField()
    line = serializers.IntegerField(allow_null=True, help_text="The line begun; null for who waits.")


class GroupRoundSerializer(serializers.Serializer):
    no = serializers.IntegerField()
    begins = serializers.CharField(help_text="Minutes and seconds from the beginning of the lesson.")
    supervision = serializers.IntegerField(help_text="Sum of the figures; at most the people and two.")
    people = GroupBegunSerializer(many=True)


class GroupPlanSerializer(serializers.Serializer):
    """One plan for all people of a lesson. Nothing here says why somebody deviates."""

    id = serializers.UUIDField()
    lesson = serializers.UUIDField()
    template = serializers.UUIDField()
    instructions = serializers.IntegerField(help_text="Separate instructions: proven to be the fewest.")
    minutes = serializers.FloatField()
    slot = serializers.IntegerField()
    people = GroupPersonSerializer(many=True)
    lines = GroupLineSerializer(many=True)
    rounds = GroupRoundSerializer(many=True)
    stale = serializers.ListField(child=serializers.CharField())


class GroupPlanView(APIView):
    @extend_schema(
        operation_id="group_plan",
        summary="The group plan of a lesson",
        responses={200: GroupPlanSerializer, **NOT_OPEN, 409: RefusedSerializer},
    )
    def get(self, request: Request, lesson_id: UUID) -> Response:
        return Response(_plan(request, lesson_id, timezone.now()))

    @extend_schema(
        operation_id="make_group_plan",
        summary="Make the plan with the fewest separate instructions; everybody gets her own program",
        request=GroupWishSerializer,
        parameters=[KEY],
        responses={200: GroupPlanSerializer, 400: dict[str, Any], **NOT_OPEN, 409: RefusedSerializer},
    )
    def post(self, request: Request, lesson_id: UUID) -> Response:
        wanted = GroupWishSerializer(data=request.data)
        wanted.is_valid(raise_exception=True)
        given = wanted.validated_data

        def act(now: datetime) -> tuple[int, dict[str, Any]]:
            actions.make_group_plan(
                lesson_id, template_id=given["template"], pace=Pace(given["pace"]), one_voice=given["one_voice"],
                without=given["without"], by=me(request), now=now,
            )  # fmt: skip
            return 200, {}

        return once(request, act, afresh=lambda now: _plan(request, lesson_id, now))


def _plan(request: Request, lesson_id: UUID, now: datetime) -> dict[str, Any]:
    plan_id = group_queries.standing(lesson_id)
    if plan_id is None:
        raise Http404("no group plan")
    return _body(actions.open_group_plan(plan_id, by=me(request), now=now))


def _body(view: GroupView) -> dict[str, Any]:
    return {
        "id": view.id,
        "lesson": view.lesson_id,
        "template": view.template_id,
        "instructions": view.instructions,
        "minutes": round(view.minutes, 1),
        "slot": view.slot,
        "people": [{"place": member.place_id, "program": member.program_id} for member in view.members],
        "lines": [_line(view, line) for line in view.lines],
        "rounds": [_round(at) for at in view.rounds],
        "stale": list(view.stale),
    }


def _line(view: GroupView, line: SharedLine) -> dict[str, Any]:
    people = [
        {
            "place": member.place_id,
            "decision": cell.decision.value,
            "exercise": cell.name,
            "springs": cell.springs,
            "reps": cell.reps,
            "differs": cell.differs,
        }
        for member, cell in zip(view.members, line.cells, strict=True)
    ]
    return {"no": line.no, "exercise": line.name, "people": people}


def _round(at: RoundRow) -> dict[str, Any]:
    people = [{"place": one.member.place_id, "line": one.line.no if one.line else None} for one in at.doing]
    return {"no": at.no, "begins": at.begins, "supervision": at.eyes, "people": people}
