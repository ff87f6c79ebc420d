"""Shapes the API's answers share."""

from typing import Any

from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers

from scheduling.rules.places import LEAST_MINUTES, MOST_MINUTES, LessonKind, PlaceState
from studio.doors import rest
from studio.rules import ApparatusKind

KINDS = [kind.value for kind in LessonKind]
STATES = [state.value for state in PlaceState]
APPARATUS = [kind.value for kind in ApparatusKind]
KEY_MOST = 2**31 - 1
DENIED: dict[int, Any] = {401: rest.DetailSerializer, 403: rest.DetailSerializer}
KEY = OpenApiParameter("Idempotency-Key", str, OpenApiParameter.HEADER, description="One intent, one key.")


class WallField(serializers.DateTimeField):
    """An instant as its studio's clock shows it, with the offset."""

    def enforce_timezone(self, value: Any) -> Any:
        return value


def minutes() -> serializers.IntegerField:
    return serializers.IntegerField(min_value=LEAST_MINUTES, max_value=MOST_MINUTES)


def row_key(**options: Any) -> serializers.IntegerField:
    return serializers.IntegerField(min_value=1, max_value=KEY_MOST, **options)


class PlaceSerializer(serializers.Serializer):
    """A place. Instants carry their offset; `start` and `end` are wall times of the studio."""

    id = serializers.UUIDField(source="place_id")
    lesson_id = serializers.UUIDField()
    client_id = serializers.UUIDField()
    client = serializers.CharField(source="client_name")
    apparatus_id = serializers.IntegerField()
    apparatus = serializers.CharField(source="apparatus_label")
    instructor_id = serializers.IntegerField()
    instructor = serializers.CharField(source="instructor_name")
    studio = serializers.CharField()
    kind = serializers.ChoiceField(source="lesson_kind", choices=KINDS)
    state = serializers.ChoiceField(choices=STATES)
    live = serializers.BooleanField(help_text="False once the lesson is cancelled.")
    start = WallField(source="start_wall")
    end = WallField(source="end_wall")
