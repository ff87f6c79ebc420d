"""A client's rights, in the owner's hands: take out the whole record, erase it, see who looked."""

import io
import json
import zipfile
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.serializers.json import DjangoJSONEncoder
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from clients import actions, forms, queries
from clients.queries import rights as held
from studio import queries as studio_queries
from studio.doors import me, paper
from studio.doors.again import really_me
from studio.doors.fields import posted
from studio.rules import Reason, Refused, Role

PAPER = "clients/record.typ"


@require_http_methods(["GET", "HEAD", "POST"])
def export(request: HttpRequest, client_id: UUID) -> HttpResponse:
    client, form = queries.card(client_id), forms.RecordForm(posted(request))
    taken: list[actions.Exported] = []

    def take(data: dict[str, Any]) -> None:
        really_me(request, data["password"])
        taken.append(actions.export_client(client_id, why=data["why"], by=me(request), now=timezone.now()))

    if form.is_bound and form.carried_out(take):
        return _served(taken[0])
    shown = {"client": client, "form": form, "held": held.held(client_id)}
    return render(request, "clients/export.html", shown, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def erase(request: HttpRequest, client_id: UUID) -> HttpResponse:
    client, form = queries.card(client_id), forms.EraseForm(posted(request))

    def deed(data: dict[str, Any]) -> None:
        really_me(request, data.pop("password"))
        _forget_in_session(request, client_id)
        name = actions.erase_client(client_id, **data, by=me(request), now=timezone.now())
        messages.success(request, f"The record is erased. What is left stands under “{name}”.")

    if form.is_bound and form.carried_out(deed):
        return redirect("clients:list")
    shown = _goes_and_stays(client_id) | {"client": client, "form": form}
    return render(request, "clients/erase.html", shown, status=422 if form.is_bound else 200)


@require_safe
def looked(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """Who opened what of this client's health, when and why: for the owner and for those who teach her."""
    client = queries.card(client_id)
    teaches = queries.may_read_health(me(request), client_id, on=queries.house_day(timezone.now()))
    if not teaches and not me(request).has_role(Role.OWNER):
        raise Refused(Reason("not_open", "Only those who teach this client, and the owner, see who looked."))
    found = held.looks(client_id, page=request.GET.get("page", "1"))
    shown = {"client": client, "page": found, "looks": [held.look(entry) for entry in found]}
    return render(request, "clients/looked.html", shown | {"zone": studio_queries.house_zone()})


def _goes_and_stays(client_id: UUID) -> dict[str, Any]:
    rows = held.held(client_id)
    ahead = held.still_booked(held.cards_of(client_id), now=timezone.now())
    return {
        "goes": [row for row in rows if row.holding.fate == "gone"],
        "stays": [row for row in rows if row.holding.fate != "gone"],
        "ahead": ahead,
    }


def _forget_in_session(request: HttpRequest, client_id: UUID) -> None:
    """The session in hand is written back after the deed: it must not bring her reason for looking with it."""
    for key, kept in list(request.session.items()):
        if isinstance(kept, dict) and str(client_id) in kept:
            request.session[key] = {one: value for one, value in kept.items() if one != str(client_id)}


def _served(taken: actions.Exported) -> HttpResponse:
    response = HttpResponse(_zipped(taken), content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="record-{str(taken.client_id)[:8]}.zip"'
    response["Cache-Control"] = "no-store"
    return response


def _zipped(taken: actions.Exported) -> bytes:
    """The record for machines, the same for reading, and the files, in one archive."""
    house = studio_queries.business()
    values = {"house": house.name if house else "", "made_at": taken.record["made_at"][:10], "told": taken.told}
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("record.json", json.dumps(taken.record, cls=DjangoJSONEncoder, ensure_ascii=False, indent=1))
        archive.writestr("record.pdf", paper.pdf(PAPER, values))
        for name, content in taken.files:
            archive.writestr(name, content)
    return written.getvalue()
