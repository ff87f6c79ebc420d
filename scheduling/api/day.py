"""The day over the API: machines by room, and the places on them."""

from datetime import date
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from scheduling import forms, queries
from scheduling.api import shapes
from studio.doors import rest


class DayPlaceSerializer(serializers.Serializer):
    id = serializers.UUIDField()
    lesson_id = serializers.UUIDField()
    client_id = serializers.UUIDField()
    client = serializers.CharField()
    instructor_id = serializers.IntegerField()
    instructor = serializers.CharField()
    kind = serializers.ChoiceField(choices=shapes.KINDS)
    state = serializers.ChoiceField(choices=shapes.STATES)
    live = serializers.BooleanField()
    start = shapes.WallField(source="start_wall")
    end = shapes.WallField(source="end_wall")
    marks = serializers.ListField(child=serializers.CharField(), help_text="late, soon, form_not_current, speak, new …")


class DayMachineSerializer(serializers.Serializer):
    id = serializers.IntegerField()
    name = serializers.CharField(source="label", help_text="Reformer 3")
    kind = serializers.ChoiceField(choices=shapes.APPARATUS)
    springs = serializers.CharField(help_text='"1L 2M 2H"')
    places = DayPlaceSerializer(many=True)


class DayRoomSerializer(serializers.Serializer):
    studio_id = serializers.IntegerField(source="house.id")
    studio = serializers.CharField(source="house.name")
    time_zone = serializers.CharField(source="house.zone.key")
    room = serializers.CharField(source="name")
    machines = DayMachineSerializer(many=True)


class DaySerializer(serializers.Serializer):
    """`version` changes whenever the day does."""

    day = serializers.DateField()
    version = serializers.CharField()
    rooms = DayRoomSerializer(many=True)


class DayView(APIView):
    @extend_schema(
        summary="The day sheet",
        parameters=[OpenApiParameter("day", date, OpenApiParameter.PATH, description="2026-03-12")],
        responses={200: DaySerializer, 404: rest.DetailSerializer, **shapes.DENIED},
    )
    def get(self, request: Request, day: str) -> Response:
        asked = forms.a_day(day)
        if asked is None:
            return Response({"detail": "There is no such day here."}, status=404)
        sheet = queries.day_sheet(asked, now=timezone.now())
        shown: dict[str, Any] = {"day": sheet.day, "version": sheet.version, "rooms": sheet.rooms}
        return Response(DaySerializer(shown).data)
