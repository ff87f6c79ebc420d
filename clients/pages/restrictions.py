"""Movements to leave out: put down by a teacher, ended by a named person."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clients import actions, forms, queries
from clients.pages.health import carried_out
from clients.rules import Level, Side
from studio.doors import me


@require_POST
def restrict(request: HttpRequest, client_id: UUID) -> HttpResponse:
    form = forms.RestrictForm(request.POST)

    def write(data: dict[str, Any]) -> object:
        side = Side(data["side"]) if data["side"] else None
        terms = actions.Terms(frozenset(data["demands"]), Level(data["level"]), side, data["is_own_words"])
        return actions.restrict(client_id, terms=terms, by=me(request), now=timezone.now(), why=data["why"])

    says = "Put down in your name, and screened again."
    return carried_out(request, client_id, form, write, says=says, named="restrict")


@require_POST
def end_restriction(request: HttpRequest, restriction_id: UUID) -> HttpResponse:
    form, client_id = forms.OfTheFloorForm(request.POST), queries.client_of_restriction(restriction_id)

    def write(data: dict[str, Any]) -> object:
        return actions.end_restriction(restriction_id, **data, by=me(request), now=timezone.now())

    return carried_out(request, client_id, form, write, says="Ended in your name, and screened again without it.")
