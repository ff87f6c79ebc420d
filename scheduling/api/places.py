"""Book a place, look at one, say what became of it."""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from scheduling import actions, queries
from scheduling.api import shapes
from scheduling.rules.places import LessonKind, PlaceState
from studio.doors import me, rest
from studio.rules import Reason, Refused, Span

FIRST_YEAR, LAST_YEAR = 2000, 2100


class BookingSerializer(serializers.Serializer):
    """One opening to book. `start` is an instant; without an offset it is UTC. `lesson_id` joins that lesson."""

    client_id = serializers.UUIDField()
    apparatus_id = shapes.row_key()
    instructor_id = shapes.row_key()
    start = serializers.DateTimeField()
    minutes = shapes.minutes()
    kind = serializers.ChoiceField(choices=shapes.KINDS)
    lesson_id = serializers.UUIDField(required=False, allow_null=True)


class StateSerializer(serializers.Serializer):
    """What became of a place; `booked` undoes. Whether a cancellation is late is told by the clock."""

    state = serializers.ChoiceField(choices=shapes.STATES)


class PlacesView(APIView):
    @extend_schema(
        summary="Book a place",
        description="A refusal says which rule, by whom a time is taken, and the nearest alternatives.",
        parameters=[shapes.KEY],
        request=BookingSerializer,
        responses={
            201: shapes.PlaceSerializer,
            400: dict[str, Any],
            404: rest.DetailSerializer,
            409: rest.RefusedSerializer,
            **shapes.DENIED,
        },
    )
    def post(self, request: Request) -> Response:
        given = BookingSerializer(data=request.data)
        given.is_valid(raise_exception=True)

        def book(now: datetime) -> tuple[int, dict[str, Any]]:
            place = actions.book_place(**_wish(given.validated_data), by=me(request), now=now)
            return 201, dict(shapes.PlaceSerializer(queries.place_facts(place.pk)).data)

        return rest.once(request, book)


class PlaceView(APIView):
    @extend_schema(
        summary="One place",
        responses={200: shapes.PlaceSerializer, 404: rest.DetailSerializer, **shapes.DENIED},
    )
    def get(self, request: Request, place_id: UUID) -> Response:
        return Response(shapes.PlaceSerializer(queries.place_facts(place_id)).data)


class PlaceStateView(APIView):
    @extend_schema(
        summary="Here, cancelled, missed, or booked again",
        parameters=[shapes.KEY],
        request=StateSerializer,
        responses={
            200: shapes.PlaceSerializer,
            400: dict[str, Any],
            404: rest.DetailSerializer,
            409: rest.RefusedSerializer,
            **shapes.DENIED,
        },
    )
    def post(self, request: Request, place_id: UUID) -> Response:
        given = StateSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        state = PlaceState(given.validated_data["state"])

        def mark(now: datetime) -> tuple[int, dict[str, Any]]:
            actions.mark_place(place_id, state=state, by=me(request), now=now)
            return 200, dict(shapes.PlaceSerializer(queries.place_facts(place_id)).data)

        return rest.once(request, mark)


def _wish(data: dict[str, Any]) -> dict[str, Any]:
    start = data["start"]
    if not FIRST_YEAR <= start.year <= LAST_YEAR:
        raise Refused(Reason("no_such_day", "That day cannot be booked.", "start", "A day of this century."))
    return {
        "client_id": data["client_id"],
        "apparatus_id": data["apparatus_id"],
        "instructor_id": data["instructor_id"],
        "span": Span(start, start + timedelta(minutes=data["minutes"])),
        "kind": LessonKind(data["kind"]),
        "lesson_id": data.get("lesson_id"),
    }
