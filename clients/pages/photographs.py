"""The photograph on a client's card: shown to the staff, kept and taken away at the desk or by a teacher."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import actions, queries
from clients.pages.letters import sent, served
from studio.doors import me
from studio.rules import Reason, Refused


@require_GET
def photograph(request: HttpRequest, client_id: UUID) -> HttpResponse:
    key = queries.photograph_of(client_id)
    if key is None:
        raise ObjectDoesNotExist
    return served(actions.read_file(key, by=me(request), now=timezone.now()))


@require_http_methods(["GET", "POST"])
def photograph_change(request: HttpRequest, client_id: UUID) -> HttpResponse:
    reasons: tuple[Reason, ...] = ()
    status = 200
    if request.method == "POST":
        content = next(iter(sent(request, "photo")), b"")
        try:
            actions.keep_photograph(client_id, content=content, by=me(request), now=timezone.now())
            messages.success(request, "The photograph is on the card.")
            return redirect("clients:card", client_id)
        except Refused as refused:
            reasons, status = refused.reasons, 409
    shown = {"client": queries.card(client_id), "reasons": reasons, "has_one": queries.photograph_of(client_id)}
    may = queries.open_consent(client_id, "photographs") is not None
    return render(request, "clients/photograph.html", shown | {"may": may}, status=status)


@require_POST
def photograph_remove(request: HttpRequest, client_id: UUID) -> HttpResponse:
    if actions.remove_photograph(client_id, by=me(request), now=timezone.now()):
        messages.success(request, "The photograph is gone for good.")
    return redirect("clients:card", client_id)
