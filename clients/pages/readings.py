"""Readings at rest: taken, repeated after five minutes, struck when mistyped."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clients import actions, forms, queries
from clients.pages.health import carried_out
from studio.doors import me


@require_POST
def readings(request: HttpRequest, client_id: UUID) -> HttpResponse:
    form = forms.ReadingsForm(request.POST)

    def write(data: dict[str, Any]) -> object:
        sitting = form.sitting()
        return actions.record_readings(client_id, sitting=sitting, by=me(request), now=timezone.now(), why=data["why"])

    return carried_out(request, client_id, form, write, says="Kept, and screened again with it.", named="readings")


@require_POST
def reading_repeat(request: HttpRequest, reading_id: UUID) -> HttpResponse:
    form, client_id = forms.RepeatForm(request.POST), queries.client_of_reading(reading_id)

    def write(data: dict[str, Any]) -> object:
        pair = form.pair(1)
        assert pair is not None
        told = {"pressure": pair, "is_sure": data["is_sure"], "why": data["why"]}
        return actions.repeat_reading(reading_id, **told, by=me(request), now=timezone.now())

    return carried_out(request, client_id, form, write, says="The second reading is kept.", named="repeat")


@require_POST
def reading_strike(request: HttpRequest, reading_id: UUID) -> HttpResponse:
    form, client_id = forms.OfTheFloorForm(request.POST), queries.client_of_reading(reading_id)

    def write(data: dict[str, Any]) -> object:
        return actions.strike_readings(reading_id, **data, by=me(request), now=timezone.now())

    return carried_out(request, client_id, form, write, says="Struck: it stays on file, and no rule reads it.")
