"""The first page of each role, and the owner's office: panels of all apps, asked for by address."""

from collections.abc import Sequence
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from studio import queries
from studio.doors import me
from studio.rules import Role, house

DRAWERS = (
    (
        Role.DESK,
        "Desk",
        "Never surprised at the door.",
        "scheduling:home-desk",
        "scheduling:day-sheet",
        "Open the day sheet",
    ),
    (
        Role.INSTRUCTOR,
        "Floor",
        "Look up from the tablet.",
        "programming:home-floor",
        "programming:floor",
        "Open the floor",
    ),
    (
        Role.OWNER,
        "Office",
        "Safe, without standing in the room.",
        "scheduling:home-owner",
        "studio:office",
        "Open the office",
    ),
)
OFFICE_PANELS = (
    "programming:waiting-panel",
    "scheduling:use-panel",
    "scheduling:load-panel",
    "scheduling:springs-panel",
    "clients:reviews-panel",
    "programming:load-panel",
)
OFFICE_LINKS = (
    ("studio:staff", "Staff", "Who works here, and in which roles"),
    ("studio:house", "House", "Locations, opening hours, policy, days off"),
    ("scheduling:machines", "Machines", "Rooms, apparatus and their springs"),
    ("scheduling:springs", "Springs", "What each pulls, its age and use, and what was seen of it"),
    ("scheduling:use", "Use", "Hours used of hours open, and teaching load"),
    ("programming:template-list", "Templates", "What is planned, with drafts, versions and approval"),
    ("programming:repertoire", "Repertoire", "Exercises, series, and what a reload would change"),
    ("clients:rules", "Rules", "What decides who may practise what, with sources, choices and versions"),
    ("clients:papers-floor", "Papers", "Clinicians’ letters to read, and those that are waited for"),
    ("studio:words", "Words", "What the house’s letters say"),
    ("studio:sent", "Sent notices", "What was mailed, waits, or needs a look"),
)


def address_of(route: str) -> str:
    """The address of a route of any app, or empty when the house has no such page."""
    try:
        return reverse(route)
    except NoReverseMatch:
        return ""


def home(request: HttpRequest) -> HttpResponse:
    if not queries.is_set_up():
        return redirect("studio:welcome")
    now = timezone.now()
    return render(request, "studio/home.html", greeting(request, now) | {"drawers": drawers(request)})


def office(request: HttpRequest) -> HttpResponse:
    panels = [address for address in map(address_of, OFFICE_PANELS) if address]
    links = [{"url": address_of(route), "name": name, "says": says} for route, name, says in OFFICE_LINKS]
    context = {"panels": panels, "links": [link for link in links if link["url"]]}
    return render(request, "studio/office.html", context | {"troubles": queries.troubles_count()})


def greeting(request: HttpRequest, now: datetime) -> dict[str, str]:
    studios = queries.studios()
    local = now.astimezone(studios[0].zone if studios else queries.house_zone())
    return {
        "greeting": house.greeting(me(request).name, local.time()),
        "now_line": f"{local:%A} {local.day} {local:%B, %H:%M}",
        "open_line": queries.door_line(studios, now=now),
    }


def drawers(request: HttpRequest) -> Sequence[dict[str, str]]:
    """The drawers of this person's roles; a panel whose page is missing is left out."""
    return [
        {
            "name": name,
            "motto": motto,
            "panel_url": address_of(panel),
            "side_url": address_of(f"{panel}-side"),
            "url": address_of(page),
            "deed": deed,
        }
        for role, name, motto, panel, page, deed in DRAWERS
        if me(request).has_role(role) and address_of(page)
    ]
