"""Somebody leaves the house: what stands against it, the way to hand lessons over, and the deed."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from scheduling import actions, queries
from scheduling.rules.leaving import leaving_refusals
from studio import queries as studio_queries
from studio.doors import me
from studio.doors.fields import ReasonedForm, posted


@require_http_methods(["GET", "POST"])
def leave(request: HttpRequest, person_id: int) -> HttpResponse:
    row, now = studio_queries.person(person_id), timezone.now()
    form = ReasonedForm(posted(request))
    if form.carried_out(lambda data: actions.leave_house(person_id, by=me(request), now=now)):
        messages.success(request, f"{row.name} has left. Everything {row.name} wrote stays.")
        return redirect("studio:staff")
    facts = queries.still_teaches(person_id, now=now)
    context = {"row": row, "form": form, "ahead": facts.ahead, "reasons": leaving_refusals(row.name, facts)}
    return render(request, "scheduling/leave.html", context, status=422 if form.errors else 200)
