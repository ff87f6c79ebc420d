"""Openings over the API: times that are really free, best first."""

from datetime import date, time
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from scheduling import queries
from scheduling.api import shapes
from scheduling.rules.openings import Wanted
from scheduling.rules.places import LessonKind
from studio.doors import rest
from studio.rules import ApparatusKind, Reason, Refused, zones

FIRST_YEAR, LAST_YEAR = 2000, 2100
MOST = 50


@extend_schema_field({"type": "string", "pattern": r"^([01][0-9]|2[0-3]):[0-5][0-9]$"})
class WallTimeField(serializers.TimeField):
    """Hours and minutes of the studio's clock; a `time` of the schema language would carry seconds and an offset."""

    def __init__(self, **options: Any) -> None:
        super().__init__(input_formats=["%H:%M"], **options)


class WantedSerializer(serializers.Serializer):
    """What is looked for. A choice left out means any; wall times are the studio's."""

    minutes = serializers.IntegerField(min_value=5, max_value=240)
    kind = serializers.ChoiceField(choices=shapes.KINDS, required=False, help_text="private when left out")
    first_day = serializers.DateField(required=False, help_text="today when left out")
    weeks = serializers.IntegerField(required=False, min_value=1, max_value=4, help_text="1 when left out")
    apparatus_kind = serializers.ChoiceField(choices=shapes.APPARATUS, required=False)
    apparatus_id = shapes.row_key(required=False)
    instructor_id = shapes.row_key(required=False)
    studio_id = shapes.row_key(required=False)
    client_id = serializers.UUIDField(
        required=False, help_text="this client's bookings, usual teacher and machine are looked at too"
    )
    earliest = WallTimeField(required=False, help_text="09:00")
    latest = WallTimeField(required=False, help_text="14:00")
    limit = serializers.IntegerField(required=False, min_value=1, max_value=MOST)


class OpeningSerializer(serializers.Serializer):
    start = shapes.WallField(source="start_wall")
    end = shapes.WallField(source="end_wall")
    minutes = serializers.IntegerField()
    studio_id = serializers.IntegerField()
    studio = serializers.CharField()
    instructor_id = serializers.IntegerField()
    instructor = serializers.CharField()
    apparatus_id = serializers.IntegerField()
    apparatus = serializers.CharField()
    lesson_id = serializers.UUIDField(allow_null=True, help_text="Set when a lesson is joined.")
    reasons = serializers.ListField(child=serializers.CharField())


class OpeningsSerializer(serializers.Serializer):
    openings = OpeningSerializer(many=True)


class OpeningsView(APIView):
    @extend_schema(
        summary="Openings, best first",
        parameters=[WantedSerializer],
        responses={200: OpeningsSerializer, 400: dict[str, Any], 409: rest.RefusedSerializer, **shapes.DENIED},
    )
    def get(self, request: Request) -> Response:
        given = WantedSerializer(data=request.query_params)
        given.is_valid(raise_exception=True)
        data, now = given.validated_data, timezone.now()
        houses = queries.houses()
        if not houses:
            return Response({"openings": []})
        wanted = _wanted(data, zones.local_day(now, houses[0].zone))
        found = queries.openings(wanted, now=now, client_id=data.get("client_id"), limit=data.get("limit", 12))
        return Response(OpeningsSerializer({"openings": found}).data)


def _wanted(data: dict[str, Any], today: date) -> Wanted:
    first, earliest, latest = data.get("first_day", today), data.get("earliest", time(0)), data.get("latest")
    if not FIRST_YEAR <= first.year <= LAST_YEAR:
        raise Refused(Reason("no_such_day", "There are no openings then.", "first_day", "A day of this century."))
    if latest is not None and latest <= earliest:
        raise Refused(Reason("ends_before", "The end is not after the beginning.", "latest", "A later time."))
    kind = data.get("apparatus_kind")
    return Wanted(
        minutes=data["minutes"],
        kind=LessonKind(data.get("kind", LessonKind.PRIVATE)),
        days=queries.days_from(first, weekdays=(), weeks=data.get("weeks", 1)),
        apparatus_kind=ApparatusKind(kind) if kind else None,
        apparatus_ids=_one(data, "apparatus_id"),
        instructor_ids=_one(data, "instructor_id"),
        studio_ids=_one(data, "studio_id"),
        earliest=earliest,
        latest=latest,
    )


def _one(data: dict[str, Any], name: str) -> tuple[int, ...]:
    return (data[name],) if name in data else ()
