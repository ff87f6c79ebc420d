"""Default deny: a view that names nobody lets nobody in.

Every route is wrapped in its app's `urls` by one of `roles(...)`, `everyone`, `by_link` or `public`; the middleware
asks the wrapped view before it runs. `tests/studio/test_access.py` walks all routes and fails on one it does not know.
"""

from collections.abc import Callable
from enum import StrEnum
from functools import wraps
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse

from studio import models
from studio.rules import Role
from studio.rules.roles import EVERY_ROLE

View = Callable[..., Any]


class Open(StrEnum):
    """Ways in that need no login."""

    PUBLIC = "public"
    # The address itself carries a secret; the page checks it.
    BY_LINK = "by link"


def _allowing(view: View, allowed: object) -> View:
    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        return view(request, *args, **kwargs)

    guarded.allowed = allowed  # type: ignore[attr-defined]
    return guarded


def roles(*allowed: Role) -> Callable[[View], View]:
    """Let in people who hold at least one of these roles."""
    return lambda view: _allowing(view, frozenset(allowed))


def everyone(view: View) -> View:
    """Let in everybody who works here."""
    return _allowing(view, EVERY_ROLE)


def by_link(view: View) -> View:
    return _allowing(view, Open.BY_LINK)


def public(view: View) -> View:
    return _allowing(view, Open.PUBLIC)


def me(request: HttpRequest) -> models.Person:
    """Who is logged in. Raises PermissionDenied for nobody, which the route's roles have ruled out."""
    if isinstance(request.user, models.Person):
        return request.user
    raise PermissionDenied


def is_api(request: HttpRequest) -> bool:
    return request.path.startswith("/api/")


class AccessMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        # Pages show people and their health: nothing of them stays in a shared tablet's cache.
        if "Cache-Control" not in response and not request.path.startswith("/static/"):
            response["Cache-Control"] = "no-store"
        return response

    def process_view(self, request: HttpRequest, view: View, args: Any, kwargs: Any) -> HttpResponse | None:
        allowed = getattr(view, "allowed", None)
        if isinstance(allowed, Open):
            return None
        if not request.user.is_authenticated:
            return self._ask_to_log_in(request)
        if allowed and request.user.has_role(*allowed):
            return None
        if is_api(request):
            return JsonResponse({"detail": "Your roles do not open this."}, status=403)
        raise PermissionDenied

    def _ask_to_log_in(self, request: HttpRequest) -> HttpResponse:
        if is_api(request):
            return JsonResponse({"detail": "Log in first."}, status=401)
        if request.headers.get("HX-Request"):
            answer = HttpResponse(status=401)
            answer["HX-Redirect"] = "/login/"
            return answer
        return redirect_to_login(request.get_full_path())
