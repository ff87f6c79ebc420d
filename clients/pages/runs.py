"""Passes of the rules over every client: progress that renews itself, a stop, and who changed, for a reason."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clients import forms
from clients.actions import runs
from clients.queries import runs as run_queries
from clients.queries import versions as version_queries
from studio.doors import me
from studio.doors.fields import posted
from studio.rules import Refused

LAST_PAGE = 10_000


@require_safe
def rules_run(request: HttpRequest, run_id: UUID) -> HttpResponse:
    run = run_queries.run(run_id)
    if request.headers.get("HX-Request"):
        return render(request, "clients/_run.html", {"run": run})
    shown = {"run": run, "version": version_queries.version(run.version_id)}
    return render(request, "clients/rules_run.html", shown)


@require_POST
def rules_run_stop(request: HttpRequest, run_id: UUID) -> HttpResponse:
    runs.stop_run(run_id, by=me(request), now=timezone.now())
    messages.success(request, "Stopped. What was done stays.")
    return redirect("clients:rules-run", run_id)


@require_POST
def rules_run_go_on(request: HttpRequest, run_id: UUID) -> HttpResponse:
    runs.go_on_with_stopped(run_id, by=me(request), now=timezone.now())
    return redirect("clients:rules-run", run_id)


@require_http_methods(["GET", "HEAD", "POST"])
def rules_run_who(request: HttpRequest, run_id: UUID) -> HttpResponse:
    """The names, once she has said why; the reason travels in the body."""
    run, form = run_queries.run(run_id), forms.ReasonForm(posted(request))
    shown = {"run": run, "form": form, "version": version_queries.version(run.version_id)}
    if not form.is_bound or not form.is_valid():
        return render(request, "clients/rules_who.html", shown, status=422 if form.is_bound else 200)
    why, page = form.cleaned_data["why"], _page(request.POST.get("page", ""))
    try:
        found = runs.who_changed(run_id, page=page, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        form.add_reasons(refused.reasons)
        return render(request, "clients/rules_who.html", shown, status=409)
    return render(request, "clients/rules_who.html", shown | {"found": found, "why": why})


@require_POST
def rules_screen_all(request: HttpRequest) -> HttpResponse:
    """To be sure: every client anew by the rules in force."""
    form = forms.ReasonForm(request.POST)
    why = form.cleaned_data["why"] if form.is_valid() else ""
    run = runs.screen_everybody(why=why, by=me(request), now=timezone.now())
    return redirect("clients:rules-run", run.pk)


def _page(words: str) -> int:
    return min(LAST_PAGE, int(words)) if words.isascii() and words.isdecimal() and len(words) < 6 else 1
