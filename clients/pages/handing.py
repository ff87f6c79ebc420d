"""How a health form gets into a hand: sent, on a tablet of the house that is then kept to it, or typed in as told."""

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import actions, forms, queries
from studio.doors import kept, me
from studio.doors.fields import posted
from studio.rules import Refused


@require_POST
def send_form(request: HttpRequest, client_id: UUID) -> HttpResponse:
    kind = _kind(request)
    try:
        made = actions.send_form_link(client_id, by=me(request), now=timezone.now(), kind=kind)
    except Refused as refused:
        messages.error(request, f"Not sent. {refused.reasons[0].says}")
    else:
        messages.success(request, f"The private link is on its way. It opens until {_day(made.expires_at)}.")
    return redirect("clients:card", client_id)


@require_POST
def form_here(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """The tablet changes hands: whoever sent it to the form is signed out on it, and it opens nothing else."""
    try:
        made = actions.hand_over_form(client_id, by=me(request), now=timezone.now(), kind=_kind(request))
    except Refused as refused:
        messages.error(request, refused.reasons[0].says)
        return redirect("clients:card", client_id)
    back = reverse("clients:form-back", args=[made.link_id])
    kept.keep_to(request, reverse("clients:form", args=[made.token]), then=back)
    return redirect("clients:form", made.token)


@require_GET
def form_back(request: HttpRequest, link_id: UUID) -> HttpResponse:
    """Where whoever took the tablet back arrives: the link that lies in its history opens nothing any more."""
    client_id = actions.close_form_link(link_id, by=me(request), now=timezone.now())
    messages.success(request, "The tablet is back. Whatever was answered on it is kept.")
    return redirect("clients:card", client_id)


@require_http_methods(["GET", "POST"])
def type_in(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """A paper form, or what a client says: typed in by whoever may read it, in her name."""
    form = forms.TypeInForm(posted(request), needs_why=_needs_why(request, client_id))
    made: list[actions.MadeLink] = []
    if form.carried_out(
        lambda data: made.append(actions.type_in_form(client_id, by=me(request), now=timezone.now(), **data))
    ):
        return redirect("clients:form", made[0].token)
    shown = {"form": form, "client": queries.card(client_id)}
    return render(request, "clients/type_in.html", shown, status=422 if form.errors else 200)


def _needs_why(request: HttpRequest, client_id: UUID) -> bool:
    return not queries.may_read_health(me(request), client_id, on=queries.house_day(timezone.now()))


def _kind(request: HttpRequest) -> str:
    """Which form a button asks for; without a word the whole one."""
    return "quick" if request.POST.get("kind") == "quick" else "full"


def _day(instant: datetime) -> str:
    day = queries.house_day(instant)
    return f"{day.day} {day:%B}"
