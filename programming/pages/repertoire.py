"""The studio's repertoire: looked through and read by those who teach, reloaded with a look at it first."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from programming import actions
from programming.forms.repertoire import SearchForm
from programming.queries import exercises, files, proposals
from programming.rules import columns
from programming.rules.entries import About
from studio.doors import me
from studio.rules import Role

SHOWN = 60


@require_safe
def repertoire(request: HttpRequest) -> HttpResponse:
    found = exercises.choices()
    form = SearchForm(
        request.GET, series=found.series, aims=found.aims, positions=found.positions, demands=found.demands
    )
    rows = exercises.browse(form.wanted())
    page = {"rows": rows, "form": form, "is_all": form.wanted().is_anything, "waiting": proposals.open_count()}
    return render(request, "programming/repertoire.html", page | _may(request))


@require_safe
def exercise(request: HttpRequest, exercise_id: str) -> HttpResponse:
    card = exercises.exercise_card(exercise_id)
    waiting = [one for one in proposals.proposals(key=exercise_id) if one.is_open]
    words = {
        "effect": columns.EFFECTS.get(card.columns["spring_effect"], ""),
        "supervision": columns.SUPERVISION[card.columns["supervision"]],
        "role": columns.ROLES.get(card.columns["rep_pool_role"], ""),
    }
    return render(request, "programming/exercise.html", {"card": card, "waiting": waiting} | words | _may(request))


@require_safe
def versions(request: HttpRequest, exercise_id: str) -> HttpResponse:
    """Every version of a row with what it changed, and the way back to each."""
    found = {
        "entry": proposals.entry(About.EXERCISE, exercise_id),
        "versions": proposals.versions(About.EXERCISE, exercise_id),
        "has_reference": bool(proposals.columns_at(About.EXERCISE, exercise_id, "reference")),
    }
    return render(request, "programming/exercise_versions.html", found | _may(request))


@require_http_methods(["GET", "HEAD", "POST"])
def reload(request: HttpRequest) -> HttpResponse:
    """What the shipped reference would change here, and the button that takes it over."""
    tables = files.reference_tables()
    if request.method == "POST":
        actions.load_reference(tables, now=timezone.now())
        messages.success(request, "Taken over. What was changed here was kept.")
        return redirect("programming:repertoire")
    plan = actions.preview_load(tables)
    return render(request, "programming/reload.html", _planned(plan))


def _planned(plan: actions.Preview) -> dict[str, Any]:
    return {"plan": plan, "changes": plan.changes[:SHOWN], "more": max(0, len(plan.changes) - SHOWN)}


def _may(request: HttpRequest) -> dict[str, bool]:
    return {"may_edit": me(request).has_role(Role.OWNER)}
