"""The owner's work on the rules: versions and what they differ in, their review, and putting one in force."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clients import forms, queries
from clients.actions import runs, workbench
from clients.pages.rules import rules_asked_for
from clients.queries import runs as run_queries
from clients.queries import versions as version_queries
from clients.rules import reference, versions
from studio.doors import me
from studio.doors.fields import posted

# Changed rows shown at once; the files hold them all.
SHOWN = 200
STRENGTHS = [one.value for one in reference.Strength]
# The words that a column may hold, where the rules know only these.
KNOWN: dict[str, dict[str, list[str]]] = {
    "limits": {"level": [one.value for one in reference.Level], "strength": STRENGTHS},
    "conditions": {
        "clearance": [one.value for one in reference.Clearance],
        "strength": STRENGTHS,
        "sided": ["y", "n"],
        "window_basis": [one.value for one in reference.Basis],
    },
    "red_flags": {"route": [one.value for one in reference.FlagRoute]},
    "bp_gates": {"outcome": ["postpone", "refer", "advise", "emergency"], "on_by_default": ["y", "n"]},
    "acsm_leaves": {"outcome": ["refer", "clear_limited", "clear"]},
}


@require_safe
def rules_versions(request: HttpRequest) -> HttpResponse:
    return _versions(request, forms.UploadForm())


@require_POST
def rules_upload(request: HttpRequest) -> HttpResponse:
    """Changed tables, put in place of those of the version in force; a fault changes nothing."""
    form, base = forms.UploadForm(request.POST, request.FILES), queries.rules_in_force().id
    made: list[Any] = []

    def propose(data: dict[str, Any]) -> None:
        files = {one.name or "": one.read(versions.LARGEST_FILE + 1) for one in request.FILES.getlist("tables")}
        note, now = data["note"], timezone.now()
        made.append(workbench.propose_tables(base, files=files, note=note, by=me(request), now=now))

    if form.carried_out(propose):
        messages.success(request, "Kept as a version. Nothing is in force that was not before.")
        return redirect("clients:rules-version", made[0].pk)
    return _versions(request, form)


@require_safe
def rules_version(request: HttpRequest, version_id: int) -> HttpResponse:
    return _version(request, version_id)


@require_safe
def rules_file(request: HttpRequest, version_id: int, table: str) -> HttpResponse:
    """A table of a version as a CSV file, to be changed in a spreadsheet and sent back."""
    rows = version_queries.tables_of(version_id).get(table)
    if rows is None:
        raise Http404
    answer = HttpResponse(versions.as_file(table, rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{table}.csv"'
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
def rules_edit(request: HttpRequest, version_id: int, table: str, row_key: str) -> HttpResponse:
    """One row in a form; kept, it becomes a version of its own."""
    row = versions.row_at(version_queries.tables_of(version_id), table, row_key)
    if row is None:
        raise Http404
    form = _row_form(request, table, row)
    made: list[Any] = []

    def propose(data: dict[str, Any]) -> None:
        words = {"values": form.values(), "note": data["note"], "by": me(request), "now": timezone.now()}
        made.append(workbench.propose_row(version_id, table=table, key=row_key, **words))

    if form.carried_out(propose):
        messages.success(request, "Kept as a version. Nothing is in force that was not before.")
        return redirect("clients:rules-version", made[0].pk)
    shown = {"form": form, "version": version_queries.version(version_id), "table": versions.TABLE_NAMES[table]}
    shown |= {"key": row_key.replace(versions.KEY_JOINT, ", ")}
    return render(request, "clients/rules_edit.html", shown, status=_status(form))


@require_POST
def rules_compare(request: HttpRequest, version_id: int) -> HttpResponse:
    run = runs.compare_on_everybody(version_id, by=me(request), now=timezone.now())
    return redirect("clients:rules-run", run.pk)


@require_POST
def rules_put(request: HttpRequest, version_id: int) -> HttpResponse:
    form = forms.ReasonForm(request.POST)
    made: list[Any] = []
    deed = lambda data: made.append(  # noqa: E731
        workbench.put_in_force(version_id, why=data["why"], by=me(request), now=timezone.now())
    )
    if form.carried_out(deed):
        messages.success(request, "In force, in your name. Every client is screened by it now.")
        return redirect("clients:rules-run", made[0].pk)
    return _version(request, version_id, put=form)


@require_POST
def rules_review(request: HttpRequest, version_id: int) -> HttpResponse:
    form = forms.ReviewForm(request.POST)
    deed = lambda data: workbench.review_version(version_id, **data, by=me(request), now=timezone.now())  # noqa: E731
    if form.carried_out(deed):
        messages.success(request, "Noted. The review stands wherever these rules speak.")
        return redirect("clients:rules-version", version_id)
    return _version(request, version_id, review=form)


def _versions(request: HttpRequest, form: forms.UploadForm) -> HttpResponse:
    shown = {
        "versions": version_queries.versions(),
        "form": form,
        "files": versions.TABLE_NAMES,
        "in_force": queries.rules_in_force(),
    }
    return render(request, "clients/rules_versions.html", shown, status=_status(form))


def _version(
    request: HttpRequest,
    version_id: int,
    *,
    put: forms.ReasonForm | None = None,
    review: forms.ReviewForm | None = None,
) -> HttpResponse:
    version, in_force = version_queries.version(version_id), rules_asked_for("")
    changes = version_queries.differences(in_force.id, version_id)
    shown = {
        "version": version,
        "in_force_id": in_force.id,
        "changes": changes[:SHOWN],
        "more": max(0, len(changes) - SHOWN),
        "count": len(changes),
        "runs": run_queries.runs_of(version_id),
        "in_time": run_queries.comparison_in_time(version_id),
        "put": put or forms.ReasonForm(auto_id="put_%s"),
        "review": review or forms.ReviewForm(auto_id="review_%s"),
    }
    return render(request, "clients/rules_version.html", shown, status=_status(put or review))


def _row_form(request: HttpRequest, table: str, row: reference.Row) -> forms.RowForm:
    keys = set(versions.KEYS[table])
    cells = [(column, row[column]) for column in versions.columns_of(table) if column not in keys]
    return forms.RowForm(posted(request), cells=cells, known=KNOWN.get(table, {}))


def _status(form: Any) -> int:
    return 422 if form is not None and form.is_bound and form.errors else 200
