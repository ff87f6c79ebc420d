"""Asking once more who it is, before something that cannot be taken back or takes much out."""

from django.contrib.auth import authenticate
from django.http import HttpRequest

from studio.doors.access import me
from studio.rules import Reason, Refused


def really_me(request: HttpRequest, password: str) -> None:
    """Raises Refused `password` unless it is that of whoever is logged in; wrong ones count as at the login."""
    if authenticate(request, username=me(request).email, password=password) != me(request):
        raise Refused(Reason("password", "That is not your password.", "password", "the one you log in with"))
