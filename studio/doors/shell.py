"""What the page shell shows on every page: the house's name, the person, the workplaces of her roles."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from studio import queries
from studio.doors.access import me
from studio.doors.kept import kept_to
from studio.rules import Role
from studio.rules.roles import EVERY_ROLE

WORKPLACES = [
    (Role.DESK, "Desk", "scheduling:day-sheet", "/desk/"),
    (Role.INSTRUCTOR, "Floor", "programming:floor", "/floor/"),
    (Role.OWNER, "Office", "studio:office", "/office/"),
]
# What is looked for from any page, beside the workplaces themselves.
WAYS = [
    (frozenset({Role.DESK}), "Openings", "scheduling:openings"),
    (EVERY_ROLE, "Clients", "clients:list"),
    (frozenset({Role.INSTRUCTOR}), "Templates", "programming:template-list"),
    (frozenset({Role.INSTRUCTOR}), "Repertoire", "programming:repertoire"),
    (frozenset({Role.DESK}), "Papers", "clients:papers"),
    (frozenset({Role.DESK}), "Sent", "studio:sent"),
]


def shell(request: HttpRequest) -> dict[str, Any]:
    person = getattr(request, "user", None)
    signed_in = person is not None and person.is_authenticated
    name, set_up = queries.signboard()
    return {
        "product": settings.PRODUCT_NAME,
        # A tablet that is kept to one form: its pages offer the way back to the staff.
        "kept": kept_to(request) if hasattr(request, "session") else "",
        "business": name,
        # While the house is being set up its owner finds back from every page that a step has led her to.
        "first_day": reverse("studio:welcome") if signed_in and not set_up and me(request).has_role(Role.OWNER) else "",
        "me": person if signed_in else None,
        "workplaces": _workplaces(request) if signed_in else [],
        "ways": _ways(request) if signed_in else [],
    }


def _workplaces(request: HttpRequest) -> list[dict[str, Any]]:
    return [
        {"name": name, "url": reverse(route), "current": request.path.startswith(prefix)}
        for role, name, route, prefix in WORKPLACES
        if me(request).has_role(role)
    ]


def _ways(request: HttpRequest) -> list[dict[str, Any]]:
    places = [(name, reverse(route)) for roles, name, route in WAYS if me(request).has_role(*roles)]
    return [{"name": name, "url": url, "current": request.path == url} for name, url in places]
