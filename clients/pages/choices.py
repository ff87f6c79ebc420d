"""The owner's choices: every point that the rules leave open, with both positions or the bound, and who chose why."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from clients import forms, queries
from clients.actions import choices
from clients.queries import open_points
from studio.doors import me
from studio.doors.fields import posted


@require_safe
def rules_choices(request: HttpRequest) -> HttpResponse:
    points = open_points.points()
    shown = {
        "positions": [one for one in points if one.is_position],
        "lines": [one for one in points if not one.is_position],
        "rules": queries.rules_in_force(),
    }
    return render(request, "clients/rules_choices.html", shown)


@require_http_methods(["GET", "HEAD", "POST"])
def rules_choice(request: HttpRequest, point: str) -> HttpResponse:
    """One point: what holds, its history, and the form where something can be chosen."""
    shown = open_points.point(point)
    if shown is None:
        raise Http404
    initial = {"value": shown.value}
    form = forms.ChoiceForm(posted(request), options=shown.options, unit=shown.unit, initial=initial)

    def choose(data: dict[str, Any]) -> None:
        choices.choose(point, value=data["value"], why=data["why"], by=me(request), now=timezone.now())

    if form.carried_out(choose):
        messages.success(request, "Chosen, in your name. Every client is screened by it now.")
        return redirect("clients:rules-choices")
    history, rules = open_points.history(point), queries.rules_in_force()
    status = 422 if form.is_bound else 200
    return render(
        request,
        "clients/rules_choice.html",
        {"point": shown, "form": form, "history": history, "rules": rules},
        status=status,
    )
