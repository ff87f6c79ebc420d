"""The API's door: sessions, listed roles, one handler for refusals, and keys that make a repeat harmless."""

import hashlib
import json
from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.exceptions import ObjectDoesNotExist
from django.utils import timezone
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework import authentication, permissions, serializers, views
from rest_framework.request import Request
from rest_framework.response import Response

from studio.actions import idempotency
from studio.doors.access import me
from studio.rules import Refused


class SessionAuthentication(authentication.SessionAuthentication):
    """The page's own login; answers 401, not 403, to somebody who is not logged in."""

    def authenticate_header(self, request: Request) -> str:
        return "Session"


class SessionScheme(OpenApiAuthenticationExtension):
    """How the schema describes the session: the cookie that the login page sets."""

    target_class = SessionAuthentication
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "apiKey", "in": "cookie", "name": settings.SESSION_COOKIE_NAME}


class ListedRolesOnly(permissions.BasePermission):
    """The middleware has already asked the route's roles; nobody passes here without a login."""

    def has_permission(self, request: Request, view: Any) -> bool:
        return bool(request.user and request.user.is_authenticated)


class ReasonSerializer(serializers.Serializer):
    code = serializers.CharField(help_text="Stable name of the rule that refused.")
    says = serializers.CharField(help_text="The rule in words for people.")
    field = serializers.CharField(help_text="The input it belongs to; empty when it belongs to none.")
    allowed = serializers.CharField(help_text="What would be accepted.")


class RefusedSerializer(serializers.Serializer):
    """Body of every 409."""

    reasons = ReasonSerializer(many=True)


class DetailSerializer(serializers.Serializer):
    """Body of 401, 403 and 404."""

    detail = serializers.CharField()


def refused_body(refused: Refused) -> dict[str, Any]:
    return {"reasons": ReasonSerializer(refused.reasons, many=True).data}


def answer_refusal(error: Exception, context: dict[str, Any]) -> Response | None:
    if isinstance(error, Refused):
        return Response(refused_body(error), status=409)
    if isinstance(error, ObjectDoesNotExist):
        return Response({"detail": "There is no such thing here."}, status=404)
    return views.exception_handler(error, context)


Afresh = Callable[[datetime], dict[str, Any]]


def once(
    request: Request, act: Callable[[datetime], tuple[int, dict[str, Any]]], *, afresh: Afresh | None = None
) -> Response:
    """Run `act(now)` once for an `Idempotency-Key`; a repeat gets the kept answer, another body under it 422.

    With `afresh` the answer is read anew each time, so that nothing of it is kept: for answers that tell of a body.
    """
    now = timezone.now()
    key = request.headers.get("Idempotency-Key", "")
    if not key:
        status, body = act(now)
    else:
        status, body = idempotency.run_once(
            person=me(request._request), key=key, digest=_digest(request), act=act, now=now
        )
    return Response(afresh(now) if afresh else body, status=status)


def _digest(request: Request) -> str:
    asked = json.dumps([request.method, request.path, request.data], sort_keys=True, default=str)
    return hashlib.sha256(asked.encode()).hexdigest()
