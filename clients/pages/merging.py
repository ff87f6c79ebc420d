"""Two cards of one person: the other one found, both laid side by side, made one, and parted again."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from clients import actions, forms, queries
from studio.doors import me
from studio.rules import Refused


@require_http_methods(["GET", "POST"])
def same_person(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """Find the other card; at first those that look like this one."""
    form = forms.SearchForm(request.POST)
    text = form.cleaned_data["text"].strip() if form.is_valid() else ""
    client = queries.card(client_id)
    rows = queries.find(text) if text else queries.look_alikes(client.name, client.email)
    shown = {"client": client, "rows": [row for row in rows if row.id != client_id], "text": text}
    return render(request, "clients/same_person.html", shown)


@require_http_methods(["GET", "POST"])
def merge(request: HttpRequest, client_id: UUID, other_id: UUID) -> HttpResponse:
    sides = queries.side_by_side(client_id, other_id)
    form = forms.MergeForm(request.POST if request.method == "POST" else None, sides=sides)

    def write(data: dict[str, Any]) -> None:
        done = actions.merge_clients(client_id, other_id, **data, by=me(request), now=timezone.now())
        undo = f"undo:{reverse('clients:merge-undo', args=[done.pk])}"
        messages.success(request, "The two cards are one.", extra_tags=undo)

    if request.method == "POST" and form.carried_out(write):
        return redirect("clients:card", client_id)
    status = 409 if request.method == "POST" else 200
    return render(request, "clients/merge.html", {"form": form, "sides": sides}, status=status)


@require_POST
def merge_undo(request: HttpRequest, merge_id: UUID) -> HttpResponse:
    kept_id = queries.card_of_merge(merge_id)
    try:
        actions.undo_merge(merge_id, by=me(request), now=timezone.now())
    except Refused as refused:
        messages.error(request, refused.reasons[0].says)
    else:
        messages.success(request, "There are two cards again.")
    return redirect("clients:card", kept_id)
