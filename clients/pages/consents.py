"""What a client agreed to: noted at the desk as it is told there, and taken back."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from clients import actions, forms, queries
from studio.doors import me

SAID = {"give": "It is noted.", "take_back": "It is taken back, from this moment on."}


@require_http_methods(["GET", "POST"])
def consents(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """All three with their history in words; POST gives one or takes one back."""
    form = forms.ConsentForm(request.POST if request.method == "POST" else None)

    def write(data: dict[str, Any]) -> object:
        deed = data.pop("deed")
        act = actions.give_consent if deed == "give" else actions.withdraw_consent
        return act(client_id, **_given(deed, data), by=me(request), now=timezone.now())

    shown = consents_shown(client_id)
    if request.method == "POST" and form.carried_out(write):
        messages.success(request, SAID[str(request.POST["deed"])])
        return redirect("clients:card", client_id)
    shown |= {"form": form, "client": queries.card(client_id)}
    return render(request, "clients/consents.html", shown, status=422 if request.method == "POST" else 200)


def consents_shown(client_id: UUID) -> dict[str, Any]:
    """What the panel of consents shows."""
    today = queries.house_day(timezone.now())
    return {
        "consents": queries.consents_of(client_id),
        "today": today,
        "giver": queries.usual_giver(client_id, on=today),
    }


def _given(deed: str, data: dict[str, Any]) -> dict[str, Any]:
    return data if deed == "give" else {"kind": data["kind"]}
