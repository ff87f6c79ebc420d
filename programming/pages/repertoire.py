"""The studio's repertoire: read by those who teach, edited by the owner, reloaded with a look at it first."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from programming import actions
from programming.forms import ExerciseForm
from programming.queries import files
from programming.queries import repertoire as repertoire_queries
from studio.doors import me
from studio.rules import ApparatusKind, Refused, Role

SHOWN = 60


@require_safe
def repertoire(request: HttpRequest) -> HttpResponse:
    text, kind = request.GET.get("q", ""), request.GET.get("kind", "")
    kind = kind if kind in set(ApparatusKind) else ""
    rows = repertoire_queries.browse(kind=kind, text=text)
    page = {"rows": rows, "q": text, "kind": kind, "kinds": list(ApparatusKind), "may_edit": _is_owner(request)}
    return render(request, "programming/repertoire.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
def exercise(request: HttpRequest, exercise_id: str) -> HttpResponse:
    card, may_edit = repertoire_queries.exercise_card(exercise_id), _is_owner(request)
    form = ExerciseForm(request.POST if may_edit and request.method == "POST" else None, initial=card.columns)
    if form.is_bound and form.is_valid() and _edited(request, exercise_id, form):
        return redirect("programming:exercise", exercise_id)
    status = 409 if form.is_bound and form.errors else 200
    return render(
        request, "programming/exercise.html", {"card": card, "form": form, "may_edit": may_edit}, status=status
    )


@require_http_methods(["GET", "HEAD", "POST"])
def reload(request: HttpRequest) -> HttpResponse:
    """What the shipped reference would change here, and the button that takes it over."""
    tables = files.reference_tables()
    if request.method == "POST":
        actions.load_reference(tables, now=timezone.now())
        messages.success(request, "Taken over. Rows edited here were kept.")
        return redirect("programming:repertoire")
    plan = actions.preview_load(tables)
    return render(request, "programming/reload.html", _planned(plan))


def _edited(request: HttpRequest, exercise_id: str, form: ExerciseForm) -> bool:
    try:
        actions.edit_exercise(exercise_id, changes=form.cleaned_data, by=me(request), now=timezone.now())
    except Refused as refused:
        for reason in refused.reasons:
            form.add_error(reason.field if reason.field in form.fields else None, reason.says)
        return False
    messages.success(request, "Kept. Programs fitted before stay as they are.")
    return True


def _planned(plan: actions.Preview) -> dict[str, Any]:
    return {"plan": plan, "changes": plan.changes[:SHOWN], "more": max(0, len(plan.changes) - SHOWN)}


def _is_owner(request: HttpRequest) -> bool:
    return bool(me(request).has_role(Role.OWNER))
