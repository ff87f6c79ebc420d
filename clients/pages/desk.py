"""The desk's cards: finding, adding and changing clients, sending the health form."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import actions, forms, queries
from clients.pages.consents import consents_shown
from studio.doors import me
from studio.rules import Refused, Role


@dataclass(frozen=True)
class Line:
    """A client in a list, with what the desk knows of the form."""

    row: queries.ClientRow
    standing: queries.FormStanding


@require_http_methods(["GET", "POST"])
def listing(request: HttpRequest) -> HttpResponse:
    return render(request, "clients/list.html", _found(request) | {"may_add": _at_desk(request)})


@require_POST
def find(request: HttpRequest) -> HttpResponse:
    return render(request, "clients/_found.html", _found(request) | {"may_add": _at_desk(request)})


@require_http_methods(["GET", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    form = forms.NewClientForm(request.POST or None)
    if request.method == "GET" or not form.is_valid():
        return render(request, "clients/add.html", {"form": form})
    try:
        client = actions.add_client(**form.cleaned_data, by=me(request), now=timezone.now())
    except Refused as refused:
        return render(request, "clients/add.html", _not_added(form, refused), status=409)
    messages.success(request, f"{client.name} is on file. Next: the health form.")
    return redirect("clients:card", client.pk)


@require_GET
def card(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """The card; that of a client merged into another leads to the kept one."""
    if (kept := queries.kept_card(client_id)) != client_id:
        return redirect("clients:card", kept)
    return render(request, "clients/card.html", _card_shown(request, client_id))


@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, client_id: UUID) -> HttpResponse:
    client = queries.card(client_id)
    form = forms.ClientForm(request.POST or None, initial=_as_written(client))

    def write(data: dict[str, Any]) -> object:
        return actions.change_client(client_id, **data, by=me(request), now=timezone.now())

    if request.method == "POST" and form.carried_out(write):
        messages.success(request, "The card is changed.")
        return redirect("clients:card", client_id)
    return render(request, "clients/change.html", {"form": form, "client": client})


def _card_shown(request: HttpRequest, client_id: UUID) -> dict[str, Any]:
    today = queries.house_day(timezone.now())
    standing = queries.form_standings([client_id], on=today)[client_id]
    return consents_shown(client_id) | {
        "may_recheck": queries.has_rules() and not queries.why_whole(client_id, on=today),
        "client": queries.card(client_id),
        "standing": standing,
        "unread": queries.unread_letters(client_id, now=timezone.now()),
        "wants_form": {"form", "signature"} & set(standing.missing),
        "ceilings": sorted(queries.ceilings([client_id])[client_id].items()),
        "merges": queries.merges_into(client_id),
        "photograph_url": queries.photograph_of(client_id) and reverse("clients:photograph", args=[client_id]),
        "may_change": _at_desk(request),
        "teaches": me(request).has_role(Role.INSTRUCTOR),
        "may_ask_health": me(request).has_role(Role.INSTRUCTOR, Role.OWNER),
        "is_owner": me(request).has_role(Role.OWNER),
    }


def _found(request: HttpRequest) -> dict[str, Any]:
    form = forms.SearchForm(request.POST)
    text = form.cleaned_data["text"].strip() if form.is_valid() else ""
    rows = queries.find(text) if text else queries.newest()
    return {"text": text, "lines": _lines(rows), "count": queries.count()}


def _lines(rows: Sequence[queries.ClientRow]) -> list[Line]:
    standings = queries.form_standings([row.id for row in rows], on=queries.house_day(timezone.now()))
    return [Line(row, standings[row.id]) for row in rows]


def _not_added(form: forms.NewClientForm, refused: Refused) -> dict[str, Any]:
    if not isinstance(refused, actions.LooksLike):
        form.add_reasons(refused.reasons)
        return {"form": form}
    shown = [*form.cleaned_data["different_from"], *(row.id for row in refused.rows)]
    return {"form": form, "alike": refused.rows, "different_from": " ".join(str(one) for one in shown)}


def _as_written(client: queries.ClientCard) -> dict[str, Any]:
    return {name: getattr(client, name) for name in forms.ClientForm.base_fields}


def _at_desk(request: HttpRequest) -> bool:
    return me(request).has_role(Role.DESK, Role.OWNER)
