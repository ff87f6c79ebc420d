"""A client's health for her teacher: what was found, told and taken, and what the teacher puts down in her own name."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from clients import actions, forms, queries
from clients.forms import OfTheFloorForm
from studio.doors import me
from studio.doors.fields import ReasonedForm
from studio.rules import Refused, Role

Deed = Callable[[dict[str, Any]], object]


@require_http_methods(["GET", "POST"])
def health(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """A teacher with care reads at once; anybody else first says why, in the body of a request."""
    form = forms.WhyForm(request.POST or None)
    why = form.cleaned_data["why"] if form.is_bound and form.is_valid() else ""
    try:
        return shown(request, client_id, why=why)
    except Refused as refused:
        status = 200 if request.method == "GET" else 409
        return _ask_why(request, client_id, form, refused, status)


@require_POST
def settle(request: HttpRequest, record_id: UUID) -> HttpResponse:
    form, client_id = forms.SettleForm(request.POST), queries.client_of_condition(record_id)

    def write(data: dict[str, Any]) -> object:
        return actions.settle_condition(record_id, **data, by=me(request), now=timezone.now())

    return carried_out(request, client_id, form, write, says="Settled in your name, and screened again without it.")


@require_POST
def window_end(request: HttpRequest, record_id: UUID) -> HttpResponse:
    form, client_id = OfTheFloorForm(request.POST), queries.client_of_condition(record_id)

    def write(data: dict[str, Any]) -> object:
        return actions.confirm_window_end(record_id, **data, by=me(request), now=timezone.now())

    return carried_out(request, client_id, form, write, says="Confirmed in your name, and screened again.")


@require_POST
def ask_again(request: HttpRequest, client_id: UUID) -> HttpResponse:
    form = forms.AskAgainForm(request.POST)

    def write(data: dict[str, Any]) -> object:
        asked = {"why": data["trigger"], "kind": data["kind"], "is_sent": data["is_sent"]}
        return actions.ask_form_again(client_id, **asked, by=me(request), now=timezone.now())

    says = "The form is asked for again. Until it is filled in, nothing new is booked."
    return carried_out(request, client_id, form, write, says=says, named="asking")


def carried_out(
    request: HttpRequest, client_id: UUID, form: OfTheFloorForm, deed: Deed, *, says: str, named: str = ""
) -> HttpResponse:
    """Do it and come back to the page; a refusal comes back with it, beside the field of the form called `named`."""
    if form.carried_out(deed):
        messages.success(request, says)
        return _back(request, client_id, why=form.cleaned_data["why"])
    why = form.cleaned_data.get("why", "")
    try:
        return shown(request, client_id, why=why, status=409, **({named: form} if named else {"refused": form}))
    except Refused as refused:
        return _ask_why(request, client_id, forms.WhyForm(), refused, 409)


def shown(request: HttpRequest, client_id: UUID, *, why: str, status: int = 200, **bound: ReasonedForm) -> HttpResponse:
    """The page, with the forms that were sent in place of empty ones. Raises Refused as reading does."""
    brief = actions.read_brief(client_id, by=me(request), now=timezone.now(), why=why)
    context: dict[str, Any] = {
        "brief": brief,
        "teaches": me(request).has_role(Role.INSTRUCTOR),
        "why": why,
        "readings": forms.ReadingsForm(initial={"why": why}),
        "repeat": forms.RepeatForm(initial={"why": why}),
        "restrict": _restrict_form(brief, why),
        "asking": forms.AskAgainForm(initial={"why": why}),
        "whose_words": actions.WHOSE_WORD.items(),
    }
    return render(request, "clients/health.html", context | bound, status=status)


def _restrict_form(brief: actions.Brief, why: str) -> ReasonedForm | None:
    """Movements can be chosen once there are rules that name them, which a screening proves."""
    return forms.RestrictForm(initial={"why": why, "is_own_words": brief.has_unread}) if brief.outcome else None


def _back(request: HttpRequest, client_id: UUID, *, why: str) -> HttpResponse:
    """With care by its address; who gave a reason for looking has given it for what follows too."""
    if why:
        return shown(request, client_id, why=why)
    return redirect(reverse("clients:health", args=[client_id]))


def _ask_why(request: HttpRequest, client_id: UUID, form: ReasonedForm, refused: Refused, status: int) -> HttpResponse:
    context = {"form": form, "client": queries.card(client_id), "reasons": refused.reasons}
    return render(request, "clients/health_why.html", context, status=status)
