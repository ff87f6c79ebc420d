"""The owner's pages about the house: its name, locations, hours, policy and days off."""

from dataclasses import replace
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from studio import forms, queries
from studio.actions import house as actions
from studio.doors import me
from studio.doors.fields import ReasonedForm, posted
from studio.pages.entry import status_of
from studio.rules import zones


def house(request: HttpRequest) -> HttpResponse:
    studios = [with_days_ahead(place, timezone.now()) for place in queries.studios()]
    return render(request, "studio/house.html", {"house": queries.business(), "studios": studios})


def with_days_ahead(place: queries.StudioView, now: datetime) -> queries.StudioView:
    """The location without the days off that have gone by there: nothing of them can be taken back."""
    today = zones.local_day(now, place.zone)
    return replace(place, closures=tuple(one for one in place.closures if one.last_day >= today))


def name_house(request: HttpRequest) -> HttpResponse:
    known = queries.business()
    initial = {"business": known.name, "emergency_number": known.emergency_number} if known else {}
    form = forms.BusinessForm(posted(request), initial=initial)
    if form.carried_out(lambda data: actions.name_house(**data, by=me(request), now=timezone.now())):
        return kept(request)
    return form_page(request, form, "Name and emergency number")


def add_studio(request: HttpRequest) -> HttpResponse:
    form = forms.PlaceForm(posted(request), initial={"time_zone": queries.house_zone().key})
    if form.carried_out(lambda data: actions.add_studio(**data, by=me(request), now=timezone.now())):
        return kept(request)
    return form_page(request, form, "Another location")


def change_studio(request: HttpRequest, studio_id: int) -> HttpResponse:
    place = queries.studio(studio_id)
    initial = {"name": place.name, "time_zone": place.zone.key, "address": place.address}
    form = forms.PlaceForm(posted(request), initial=initial)
    if form.carried_out(lambda data: actions.change_studio(studio_id, **data, by=me(request), now=timezone.now())):
        return kept(request)
    return form_page(request, form, place.name)


def hours(request: HttpRequest, studio_id: int) -> HttpResponse:
    place = queries.studio(studio_id)
    form = forms.HoursForm(posted(request), hours=place.hours)
    if form.carried_out(lambda data: actions.set_hours(studio_id, form.hours(), by=me(request), now=timezone.now())):
        return kept(request)
    return form_page(request, form, f"Opening hours of {place.name}", HOURS_LEAD)


def policy(request: HttpRequest, studio_id: int) -> HttpResponse:
    place = queries.studio(studio_id)
    form = forms.PolicyForm(posted(request), initial=policy_initial(place))
    if form.carried_out(lambda data: actions.set_policy(studio_id, **data, by=me(request), now=timezone.now())):
        return kept(request)
    return form_page(request, form, f"Policy of {place.name}")


def close_days(request: HttpRequest, studio_id: int) -> HttpResponse:
    place = queries.studio(studio_id)
    form = forms.ClosureForm(posted(request))
    if form.carried_out(lambda data: actions.close_days(studio_id, **data, by=me(request), now=timezone.now())):
        return kept(request)
    return form_page(request, form, f"Days off at {place.name}", "Both days count, and nothing is booked on them.")


@require_POST
def open_days(request: HttpRequest, closure_id: int) -> HttpResponse:
    actions.open_days(closure_id, by=me(request), now=timezone.now())
    return kept(request)


HOURS_LEAD = "One line a day, like 7:00-21:00 or 7:00-12:00, 14:00-21:00. An empty line is a closed day."


def policy_initial(place: queries.StudioView) -> dict[str, object]:
    policy = place.policy
    return {
        "lesson_minutes": policy.lesson_minutes,
        "turnaround_minutes": policy.turnaround_minutes,
        "cancel_hours": policy.cancel_hours,
        "reminder_hours": ", ".join(map(str, policy.reminder_hours)),
    }


def kept(request: HttpRequest) -> HttpResponse:
    messages.success(request, "Kept.")
    return redirect("studio:house")


def form_page(request: HttpRequest, form: ReasonedForm, title: str, lead: str = "") -> HttpResponse:
    context = {"form": form, "title": title, "lead": lead, "zones": actions.zone_names()}
    return render(request, "studio/house_form.html", context, status=status_of(form))
