"""The floor's view of a client's health, and the reviews that are due."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import actions, forms, queries
from studio.doors import me
from studio.rules import Refused, Role


@require_http_methods(["GET", "POST"])
def health(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """A teacher with care reads at once; anybody else first says why, in the body of a request."""
    form = forms.WhyForm(request.POST or None)
    why = form.cleaned_data["why"] if form.is_bound and form.is_valid() else ""
    try:
        brief = actions.read_brief(client_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        shown = {"form": form, "client": queries.card(client_id), "reasons": refused.reasons}
        return render(request, "clients/health_why.html", shown, status=200 if request.method == "GET" else 409)
    teaches = me(request).has_role(Role.INSTRUCTOR)
    return render(request, "clients/health.html", {"brief": brief, "teaches": teaches})


@require_POST
def settle(request: HttpRequest, record_id: UUID) -> HttpResponse:
    client_id = queries.client_of_condition(record_id)
    # Whoever settles a condition may read it: without care the question "why" comes first.
    actions.read_limits(client_id, by=me(request), now=timezone.now())
    actions.settle_condition(record_id, by=me(request), now=timezone.now())
    messages.success(request, "Settled in your name, and screened again without it.")
    return redirect("clients:health", client_id)


@require_GET
def reviews_panel(request: HttpRequest) -> HttpResponse:
    return _reviews(request)


@require_POST
def review_held(request: HttpRequest, review_id: UUID) -> HttpResponse:
    actions.finish_review(review_id, by=me(request), now=timezone.now())
    if request.headers.get("HX-Request"):
        return _reviews(request)
    messages.success(request, "Noted as held. The next one is dated from today.")
    return redirect("studio:home")


def _reviews(request: HttpRequest) -> HttpResponse:
    """An instructor's own clients; for an owner everybody's."""
    is_owner = me(request).has_role(Role.OWNER)
    rows = queries.open_reviews(on=queries.house_day(timezone.now()), person=None if is_owner else me(request))
    shown = {"reviews": rows, "teaches": me(request).has_role(Role.INSTRUCTOR), "everybody": is_owner}
    return render(request, "clients/_reviews.html", shown)
