"""A studio's first day: from an empty house to an empty day sheet, one step at a time, each open to a second look.

What has been kept is in the house's own rows, so going back, closing the page or signing in elsewhere loses nothing.
"""

import zoneinfo
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib import auth, messages
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from studio import forms, queries
from studio.actions import house as actions
from studio.actions import people
from studio.doors import me
from studio.doors.fields import ReasonedForm, posted
from studio.pages.entry import BACKEND, status_of
from studio.pages.home import address_of
from studio.pages.house import HOURS_LEAD, policy_initial
from studio.rules import Role
from studio.rules import first_day as rules

NAMES = ("You", "House", "Hours", "Machines", "Teachers", "Policy")
STEPS = dict(zip(rules.STEPS, NAMES, strict=True))
TEACHERS_LEAD = (
    "Each gets a letter with a link to choose a password. What somebody may teach, and when, stands beside the name."
)
USUAL_HOURS = "07:00-21:00"
Page = Callable[[HttpRequest], HttpResponse]


def first_day(page: Page) -> Page:
    """Open `page` only while the house is being set up, and to nobody but its owner once there is one."""

    @wraps(page)
    def guarded(request: HttpRequest) -> HttpResponse:
        if queries.is_set_up():
            return redirect("studio:home")
        if queries.anybody():
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            if not me(request).has_role(Role.OWNER):
                raise PermissionDenied("The owner is still setting up the house.")
        return page(request)

    return guarded


@first_day
def welcome(request: HttpRequest) -> HttpResponse:
    return redirect(f"studio:welcome-{rules.first_open(queries.first_day_done())}")


@first_day
def account(request: HttpRequest) -> HttpResponse:
    if queries.anybody():
        return step(request, "account", None, "You are signed in as the owner. Go on with the house.")
    form = forms.OwnerForm(posted(request), asks_code=settings.PRODUCTION)
    if form.carried_out(lambda data: _open_house(request, data)):
        return redirect("studio:welcome-house")
    return step(request, "account", form, "The first account is the owner’s. Others are invited in a moment.")


def _open_house(request: HttpRequest, data: dict[str, Any]) -> None:
    known = {field: value for field, value in data.items() if field != "again"}
    owner = actions.open_house(**known, now=timezone.now())
    auth.login(request, owner, backend=BACKEND)


def owner_only(page: Page) -> Page:
    """The steps after the first need an owner: without one, begin with the account."""

    @wraps(page)
    def guarded(request: HttpRequest) -> HttpResponse:
        return page(request) if queries.anybody() else redirect("studio:welcome-account")

    return first_day(guarded)


def needs_location(page: Page) -> Page:
    """The steps after the house need a location."""

    @wraps(page)
    def guarded(request: HttpRequest) -> HttpResponse:
        return page(request) if queries.studios() else redirect("studio:welcome-house")

    return owner_only(guarded)


@owner_only
def house(request: HttpRequest) -> HttpResponse:
    form = forms.HouseForm(posted(request), initial=_house_initial())
    if form.carried_out(lambda data: _keep_house(request, data)):
        return redirect("studio:welcome-hours")
    return step(request, "house", form, "The business, and its first location. More locations can follow later.")


@needs_location
def hours(request: HttpRequest) -> HttpResponse:
    place = queries.studios()[0]
    form = forms.HoursForm(posted(request), hours=place.hours or dict.fromkeys(range(5), USUAL_HOURS))
    if form.carried_out(lambda data: actions.set_hours(place.id, form.hours(), by=me(request), now=timezone.now())):
        return redirect("studio:welcome-machines")
    return step(request, "hours", form, HOURS_LEAD)


@needs_location
def machines(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        return redirect("studio:welcome-teachers")
    lead = "Each machine with its springs, as they hang there now."
    return step(request, "machines", None, lead, panel=address_of("scheduling:setup-machines"))


@needs_location
def teachers(request: HttpRequest) -> HttpResponse:
    if "done" in request.POST:
        return redirect("studio:welcome-policy")
    form = forms.InviteForm(posted(request), initial={"roles": [Role.INSTRUCTOR.value]})
    if form.carried_out(lambda data: people.invite(**data, by=me(request), now=timezone.now())):
        messages.success(request, f"An invitation is on its way to {form.cleaned_data['name']}.")
        return redirect("studio:welcome-teachers")
    return step(request, "teachers", form, TEACHERS_LEAD, team=queries.staff())


@needs_location
def policy(request: HttpRequest) -> HttpResponse:
    form = forms.PolicyForm(posted(request), initial=policy_initial(queries.studios()[0]))
    if form.carried_out(lambda data: _keep_policy(request, data)):
        messages.success(request, "The house is open. This is its first day.")
        return redirect(address_of("scheduling:day-sheet") or "studio:home")
    return step(request, "policy", form, "These are usual; change what is different with you. The office keeps them.")


def _house_initial() -> dict[str, str]:
    known, places = queries.business(), queries.studios()
    initial = {"emergency_number": "112", "time_zone": likely_zone()}
    if known:
        initial |= {"business": known.name, "emergency_number": known.emergency_number}
    if places:
        initial |= {"name": places[0].name, "time_zone": places[0].zone.key, "address": places[0].address}
    return initial


def _keep_house(request: HttpRequest, data: dict[str, str]) -> None:
    by, now = me(request), timezone.now()
    place = {key: data[key] for key in ("name", "time_zone", "address")}
    actions.keep_first_house(
        business=data["business"], emergency_number=data["emergency_number"], place=place, by=by, now=now
    )


def _keep_policy(request: HttpRequest, data: dict[str, object]) -> None:
    actions.open_for_work(policy=data, by=me(request), now=timezone.now())


def likely_zone() -> str:
    """The time zone this machine is set to, when it says so in a name we know; else a guess to be changed."""
    place = Path("/etc/localtime")
    name = str(place.resolve()).partition("zoneinfo/")[2] if place.is_symlink() else ""
    return name if name in zoneinfo.available_timezones() and name in actions.zone_names() else "Europe/London"


def step(request: HttpRequest, key: str, form: ReasonedForm | None, lead: str, **more: object) -> HttpResponse:
    """The page of one step: its form or panel, the line of steps, and the way on."""
    done, keys = queries.first_day_done(), list(STEPS)
    steps = [
        {
            "name": name,
            "url": address_of(f"studio:welcome-{other}"),
            "current": other == key,
            "done": done[other],
            "open": done["house"] or other == "account" or (other == "house" and done["account"]),
        }
        for other, name in STEPS.items()
    ]
    onward = address_of(f"studio:welcome-{keys[keys.index(key) + 1]}") if key != "policy" else ""
    context = {"form": form, "lead": lead, "key": key, "name": STEPS[key], "steps": steps, "onward": onward, **more}
    zones = actions.zone_names() if key == "house" else ()
    return render(request, "studio/welcome.html", context | {"zones": zones}, status=status_of(form) if form else 200)
