"""The minute before a lesson: what is sore today in two taps, what follows from it, and the way back."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from programming.actions import checkins as checkin_actions
from programming.forms.fitting import CheckInForm
from programming.pages.reasons import ask, asks_why, reason_for
from programming.queries import sheets
from programming.rules import checkins as rules
from studio import queries as studio_queries
from studio.doors import me
from studio.rules import Refused


@asks_why
def check_in(request: HttpRequest, place_id: UUID) -> HttpResponse:
    """The places to tap; what was said, once somebody was asked."""
    client_id = sheets.client_of(place_id)
    why = reason_for(request, client_id)
    if request.method == "POST" and "look" not in request.POST:
        return _said(request, place_id, why)
    try:
        found = checkin_actions.open_check_in(place_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    if found.answers is None or "again" in request.GET:
        return _asked(request, found, CheckInForm())
    return render(request, "programming/checkin_said.html", _told(found))


@require_POST
def take_back(request: HttpRequest, place_id: UUID) -> HttpResponse:
    why = reason_for(request, sheets.client_of(place_id))
    checkin_actions.take_back_check_in(place_id, by=me(request), now=timezone.now(), why=why)
    messages.success(request, "Taken back. The lesson is fitted as it was before.")
    return redirect("programming:brief", place_id)


def _said(request: HttpRequest, place_id: UUID, why: str) -> HttpResponse:
    form, now = CheckInForm(request.POST), timezone.now()
    if form.is_valid():
        try:
            done = checkin_actions.check_in(place_id, answers=form.answers, by=me(request), now=now, why=why)
        except Refused as refused:
            for reason in refused.reasons:
                form.add_error(reason.field if reason.field in form.fields else None, reason.says)
        else:
            _tell(request, place_id, done)
            return redirect("programming:brief" if done.answers.is_quiet else "programming:check-in", place_id)
    found = checkin_actions.open_check_in(place_id, by=me(request), now=now, why=why)
    return _asked(request, found, form, status=409)


def _tell(request: HttpRequest, place_id: UUID, done: checkin_actions.CheckedIn) -> None:
    back = f"undo:{reverse('programming:check-in-back', args=[place_id])}"
    if done.answers.is_quiet:
        messages.success(request, "Kept: nothing new today.", extra_tags=back)
    elif done.program_id:
        messages.success(request, "The lesson is fitted to it, for today only.", extra_tags=back)
    else:
        messages.success(request, "Kept.", extra_tags=back)


def _asked(
    request: HttpRequest, found: checkin_actions.OpenCheckIn, form: CheckInForm, *, status: int = 200
) -> HttpResponse:
    given = form.data if form.is_bound else {}
    picked = form.data.getlist("sore") if form.is_bound else []  # type: ignore[attr-defined]
    page = {
        "found": found,
        "form": form,
        "sites": rules.SITES,
        "sides": list(rules.Side),
        "pains": range(rules.MOST_PAIN + 1),
        "sleeps": list(rules.Slept),
        "signs": rules.SIGNS,
        "picked": picked,
        "slept": given.get("slept", ""),
    }
    return render(request, "programming/checkin.html", page, status=status)


def _told(found: checkin_actions.OpenCheckIn) -> dict[str, Any]:
    business = studio_queries.business()
    return {
        "found": found,
        "route": found.answers.route.value if found.answers and found.answers.route else "",
        "is_strong": bool(found.answers and found.answers.pain >= rules.REVIEW_FROM),
        "emergency_number": business.emergency_number if business else "112",
    }
