"""GET the run sheet of a place; mark a line, take a mark back, finish the log."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from programming import actions
from programming.api.serializers import LineSerializer, MarkSerializer, RunSheetSerializer, sheet_body
from programming.queries import sheets
from programming.rules.marks import Mark
from studio.doors import me
from studio.doors.rest import DetailSerializer, RefusedSerializer, once
from studio.rules import Reason, Refused

NOT_OPEN = {401: DetailSerializer, 403: DetailSerializer, 404: DetailSerializer}
KEY = OpenApiParameter(
    "Idempotency-Key", str, OpenApiParameter.HEADER, description="The same key and body are done once."
)


class RunSheetView(APIView):
    @extend_schema(
        operation_id="run_sheet",
        summary="The run sheet of a place, with what has been marked",
        responses={200: RunSheetSerializer, **NOT_OPEN},
    )
    def get(self, request: Request, place_id: UUID) -> Response:
        return Response(_sheet(request, place_id, timezone.now()))


class LogLineView(APIView):
    @extend_schema(
        operation_id="mark_line",
        summary="Mark a line; the first mark begins the log",
        request=MarkSerializer,
        parameters=[KEY],
        responses={200: RunSheetSerializer, 400: dict[str, Any], **NOT_OPEN, 409: RefusedSerializer},
    )
    def post(self, request: Request, place_id: UUID) -> Response:
        wanted = MarkSerializer(data=request.data)
        wanted.is_valid(raise_exception=True)
        given = wanted.validated_data

        def act(now: datetime) -> tuple[int, dict[str, Any]]:
            _teaches(request, place_id, now)
            actions.mark_place_line(
                place_id, line_id=given["line"], mark=Mark(given["mark"]), by=me(request), now=now,
                reps=given.get("reps"), score=given.get("score"),
            )  # fmt: skip
            return 200, {}

        return once(request, act, afresh=lambda now: _sheet(request, place_id, now))


class LogUndoView(APIView):
    @extend_schema(
        operation_id="undo_line",
        summary="Take the mark of a line back",
        request=LineSerializer,
        parameters=[KEY],
        responses={200: RunSheetSerializer, 400: dict[str, Any], **NOT_OPEN, 409: RefusedSerializer},
    )
    def post(self, request: Request, place_id: UUID) -> Response:
        wanted = LineSerializer(data=request.data)
        wanted.is_valid(raise_exception=True)

        def act(now: datetime) -> tuple[int, dict[str, Any]]:
            _teaches(request, place_id, now)
            line = wanted.validated_data["line"]
            actions.undo_line(_log_of(place_id), line_id=line, by=me(request), now=now)
            return 200, {}

        return once(request, act, afresh=lambda now: _sheet(request, place_id, now))


class LogFinishView(APIView):
    @extend_schema(
        operation_id="finish_log",
        summary="Finish the lesson's log: the visit is counted once",
        request=None,
        parameters=[KEY],
        responses={200: RunSheetSerializer, 400: dict[str, Any], **NOT_OPEN, 409: RefusedSerializer},
    )
    def post(self, request: Request, place_id: UUID) -> Response:
        def act(now: datetime) -> tuple[int, dict[str, Any]]:
            _teaches(request, place_id, now)
            actions.finish_log(_log_of(place_id), by=me(request), now=now)
            return 200, {}

        return once(request, act, afresh=lambda now: _sheet(request, place_id, now))


def _sheet(request: Request, place_id: UUID, now: datetime) -> dict[str, Any]:
    _teaches(request, place_id, now)
    return sheet_body(actions.open_sheet(place_id, by=me(request), now=now))


def _teaches(request: Request, place_id: UUID, now: datetime) -> None:
    _open_to(request, sheets.client_of(place_id), now)


def _open_to(request: Request, client_id: UUID, now: datetime) -> None:
    try:
        actions.check_care(client_id, by=me(request), now=now)
    except Refused as refused:
        raise PermissionDenied(refused.reasons[0].says) from refused


def _log_of(place_id: UUID) -> UUID:
    log_id = sheets.log_of(place_id)
    if log_id is None:
        raise Refused(Reason("no_log", "Nothing of this lesson has been marked yet.", allowed="mark a line first"))
    return log_id
