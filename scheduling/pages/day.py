"""The day sheet at the desk, and the cheap question whether it has changed."""

from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from scheduling import forms, queries
from scheduling.pages.grid import laid_out
from scheduling.pages.places import slip_context
from studio.rules import zones

TALLY = (
    ("here", "here"),
    ("late", "late"),
    ("soon", "soon"),
    ("form_not_current", "form not current"),
    ("speak", "speak to the instructor"),
    ("new", "new"),
)
GONE = (
    ("cancelled", "cancelled"),
    ("cancelled_late", "cancelled late"),
    ("missed", "missed"),
)


@require_safe
def day_sheet(request: HttpRequest) -> HttpResponse:
    day, today = _asked_day(request)
    context = sheet_context(day, today, open_place=_asked_place(request))
    return render(request, "scheduling/day_sheet.html", context)


@require_safe
def changes(request: HttpRequest) -> HttpResponse:
    """The sheet again, or 204 when what the page has `seen` is still so."""
    day, today = _asked_day(request)
    if queries.day_version(day, now=timezone.now()) == request.GET.get("seen"):
        return HttpResponse(status=204)
    return render(request, "scheduling/_sheet.html", sheet_context(day, today) | {"oob": True})


def sheet_context(day: date, today: date, *, open_place: UUID | None = None) -> dict[str, Any]:
    now = timezone.now()
    sheet = queries.day_sheet(day, now=now)
    known = {place.id for place in sheet.places}
    context = {
        "sheet": sheet,
        "grid": laid_out(sheet, open_place=open_place),
        "is_today": day == today,
        "today": today,
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "tally": _figures(sheet, TALLY),
        "gone": _figures(sheet, GONE),
        "to_do": queries.to_do() if not sheet.places else (),
    }
    return context | (slip_context(open_place, now=now) if open_place in known else {})


def _figures(sheet: queries.DaySheet, words: tuple[tuple[str, str], ...]) -> list[tuple[str, str]]:
    return [(mark, f"{sheet.counts[mark]} {said}") for mark, said in words if sheet.counts.get(mark)]


def _asked_day(request: HttpRequest) -> tuple[date, date]:
    """The day asked for and today, in the first studio's zone; words that are no day mean today, and say so."""
    houses = queries.houses()
    today = zones.local_day(timezone.now(), houses[0].zone) if houses else timezone.now().date()
    text = request.GET.get("day", "")
    day = forms.a_day(text) if text else today
    if day is None:
        messages.warning(request, "That is no day; this is today.")
    return day or today, today


def _asked_place(request: HttpRequest) -> UUID | None:
    try:
        return UUID(request.GET.get("place", ""))
    except ValueError:
        return None
