"""The instructor's day and the brief before a lesson."""

from datetime import date
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from clients import queries as clients_queries
from programming import actions
from programming.forms import AssignForm
from programming.pages.reasons import ask, asks_why, reason_for
from programming.queries import floor as floor_queries
from programming.queries import progress as progress_queries
from programming.queries import templates as template_queries
from programming.rules.timing import Pace
from scheduling import queries as scheduling_queries
from studio.doors import me
from studio.rules import Refused


@require_safe
def floor(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    day = _day(request.GET.get("day", "")) or clients_queries.house_day(now)
    return render(request, "programming/floor.html", {"day": floor_queries.floor_day(me(request), day, now=now)})


@require_safe
def home_floor(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    day = floor_queries.floor_day(me(request), clients_queries.house_day(now), now=now)
    return render(request, "programming/_home_floor.html", {"day": day})


@asks_why
def brief(request: HttpRequest, place_id: UUID) -> HttpResponse:
    place = scheduling_queries.place_facts(place_id)
    try:
        found = actions.open_brief(
            place_id, by=me(request), now=timezone.now(), why=reason_for(request, place.client_id)
        )
    except Refused as refused:
        return ask(request, place.client_id, refused)
    choices = template_queries.choices(place.client_id, place.kind) if found.program is None else []
    decided = progress_queries.decided_words(place.client_id)
    return render(
        request, "programming/brief.html", {"brief": found, "choices": choices, "paces": list(Pace), "decided": decided}
    )


@require_safe
def templates(request: HttpRequest, place_id: UUID) -> HttpResponse:
    place, text = scheduling_queries.place_facts(place_id), request.GET.get("q", "")
    choices = template_queries.choices(place.client_id, place.kind, text=text)
    page = "programming/_choices.html" if request.headers.get("HX-Request") else "programming/templates.html"
    return render(request, page, {"place": place, "choices": choices, "q": text, "paces": list(Pace)})


@require_POST
def assign(request: HttpRequest, place_id: UUID) -> HttpResponse:
    form = AssignForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose one of the templates.")
        return redirect("programming:templates", place_id)
    place, wanted = scheduling_queries.place_facts(place_id), form.cleaned_data
    program = actions.assign_program(
        client_id=place.client_id, template_id=wanted["template"], place_id=place_id,
        apparatus_id=place.apparatus_id, minutes=int(place.span.minutes), pace=wanted["pace"], by=me(request),
        now=timezone.now(), why=wanted["why"] or reason_for(request, place.client_id),
    )  # fmt: skip
    return redirect("programming:program", program.pk)


def _day(text: str) -> date | None:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if 2000 <= day.year <= 2200 else None
