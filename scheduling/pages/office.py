"""The owner's pages of use and load, and the panels other pages ask for by address."""

from datetime import timedelta
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from scheduling import queries
from scheduling.rules.places import HOLDING, PlaceState
from studio.rules import zones

WEEKS = 8
PANEL_WEEKS = 4
MOST_WEEKS = 26
DOOR = timedelta(minutes=45)


@require_safe
def use(request: HttpRequest) -> HttpResponse:
    weeks = _weeks(request)
    return render(request, "scheduling/use.html", use_context(weeks) | load_context() | {"weeks": weeks})


@require_safe
def use_panel(request: HttpRequest) -> HttpResponse:
    return render(request, "scheduling/_use.html", use_context(PANEL_WEEKS) | {"panel": True})


@require_safe
def load_panel(request: HttpRequest) -> HttpResponse:
    return render(request, "scheduling/_load.html", load_context() | {"panel": True})


@require_safe
def home_desk(request: HttpRequest) -> HttpResponse:
    return render(request, "scheduling/_home_desk.html", _today())


@require_safe
def home_desk_side(request: HttpRequest) -> HttpResponse:
    return render(request, "scheduling/_home_door.html", _today())


@require_safe
def home_owner(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    monday = zones.monday_of(now.date())
    this_week = queries.machine_use(monday, 1)
    loads = queries.teaching_load(monday, monday + timedelta(days=6))
    context = {
        "share": _percent(this_week.share),
        "hours": sum(load.hours for load in loads),
        "lessons": sum(load.lessons for load in loads),
        "longest": max(loads, key=lambda load: load.longest_run, default=None),
        "places": _today()["sheet"].counts["places"],
    }
    return render(request, "scheduling/_home_owner.html", context)


@require_safe
def client_panel(request: HttpRequest, client_id: UUID) -> HttpResponse:
    places = queries.upcoming(client_id, now=timezone.now())
    return render(request, "scheduling/_client.html", {"places": places, "client_id": client_id})


def use_context(weeks: int) -> dict[str, Any]:
    """The heat table: a row for each machine, a column for each week, percent of open hours."""
    found = queries.machine_use(queries.weeks_before(timezone.now(), weeks), weeks)
    rows = [
        (machine, [(_percent(week.share if week else None), week) for week in machine.weeks], _percent(machine.share))
        for machine in found.machines
    ]
    fullest = max(found.machines, key=lambda one: one.share or 0, default=None)
    quietest = min((one for one in found.machines if one.open), key=lambda one: one.share or 0, default=None)
    return {"use": found, "rows": rows, "all": _percent(found.share), "fullest": fullest, "quietest": quietest}


def load_context() -> dict[str, Any]:
    """This week's hours of each teacher as bars on one scale, with the table behind them."""
    monday = zones.monday_of(timezone.now().date())
    loads = queries.teaching_load(monday, monday + timedelta(days=6))
    most = max((load.hours for load in loads), default=0) or 1
    bars = [
        {
            "load": load,
            "y": 34 * at,
            "base": 34 * at + 26,
            "text": 34 * at + 19,
            "bar": 34 * at + 5,
            "width": f"{62 * load.hours / most:.2f}%",
            "end": f"{31 + 62 * load.hours / most:.2f}%",
        }
        for at, load in enumerate(loads)
    ]
    return {"bars": bars, "bars_height": 34 * max(len(bars), 1), "monday": monday, "loads": loads}


def _percent(share: float | None) -> int | None:
    return None if share is None else round(100 * share)


def _weeks(request: HttpRequest) -> int:
    text = request.GET.get("weeks", "")
    return min(max(int(text), 1), MOST_WEEKS) if text.isascii() and text.isdigit() and len(text) < 4 else WEEKS


def _today() -> dict[str, Any]:
    now = timezone.now()
    houses = queries.houses()
    today = zones.local_day(now, houses[0].zone) if houses else now.date()
    sheet = queries.day_sheet(today, now=now)
    coming = sorted(
        (place for place in sheet.places if place.holds and place.state is PlaceState.BOOKED and place.span.end > now),
        key=lambda place: place.span,
    )
    labels = {machine.id: machine.label for room in sheet.rooms for machine in room.machines}
    door = [(place, labels[place.apparatus_id]) for place in coming if place.span.start - now <= DOOR][:6]
    on_floor = [
        place
        for place in sheet.places
        if place.live and place.state in HOLDING and place.span.start <= now < place.span.end
    ]
    return {"sheet": sheet, "door": door, "next": coming[0] if coming else None, "on_floor": len(on_floor)}
