"""A tablet handed to a client is kept to one address and what lies under it, until a member of staff takes it back.

The lock lies in the session, so it holds in every tab and after the browser was closed, as long as the session does.
"""

from collections.abc import Callable

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse

from studio.doors.access import is_api

KEPT_TO, THEN = "kept_to", "kept_then"


def keep_to(request: HttpRequest, prefix: str, *, then: str = "") -> None:
    """Sign out whoever is signed in, and from now on open nothing in this browser but what begins with `prefix`.

    `then` is the address that whoever takes the tablet back comes to.
    """
    logout(request)
    request.session[KEPT_TO], request.session[THEN] = prefix, then


def kept_to(request: HttpRequest) -> str:
    """The one address this browser is kept to; empty when it is free."""
    prefix = request.session.get(KEPT_TO, "")
    return prefix if isinstance(prefix, str) else ""


def take_back(request: HttpRequest) -> str:
    """Open everything again, for somebody of the staff has just signed in here; the address to go on at, if any."""
    request.session.pop(KEPT_TO, None)
    return str(request.session.pop(THEN, ""))


class KeptMiddleware:
    """Asked before any view: nothing outside the address runs, whoever asks and however."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        prefix = kept_to(request)
        way_out = reverse("studio:take-back")
        if not prefix or request.path.startswith(prefix) or request.path == way_out:
            return self.get_response(request)
        if is_api(request):
            return JsonResponse({"detail": "This tablet is kept to one form."}, status=403)
        if request.headers.get("HX-Request"):
            answer = HttpResponse(status=403)
            answer["HX-Redirect"] = way_out
            return answer
        if request.method != "GET":
            return HttpResponseRedirect(way_out)
        answer = render(request, "studio/kept.html", {"prefix": prefix}, status=403)
        answer["Cache-Control"] = "no-store"
        return answer
