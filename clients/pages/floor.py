"""The floor's panels: the reviews that are due, and what the days will change for an instructor's clients."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from clients import actions, queries
from studio.doors import me
from studio.rules import Role


@require_GET
def coming_panel(request: HttpRequest) -> HttpResponse:
    """What comes for her own clients, by kind and day; what it is stands on the health page, where it is recorded."""
    rows = queries.coming_of(me(request), on=queries.house_day(timezone.now()))
    return render(request, "clients/_coming.html", {"rows": rows})


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
