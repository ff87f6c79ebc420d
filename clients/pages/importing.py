"""A studio's own list brought in: the file, its columns, each row's fate, and the way back."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import actions, forms, queries
from studio.doors import me
from studio.rules import Refused

# More rows than this are counted and not shown; the file of what is left has them all.
SHOWN = 100
SHOWN_GOOD = 20


@require_http_methods(["GET", "POST"])
def import_list(request: HttpRequest) -> HttpResponse:
    posted = request.method == "POST"
    form = forms.ListFileForm(request.POST if posted else None, request.FILES if posted else None)
    made = []

    def write(data: dict[str, Any]) -> None:
        file = data["file"]
        made.append(actions.look_at_list(file.name, file.read(), by=me(request), now=timezone.now()))

    if posted and form.carried_out(write):
        return redirect("clients:import-rows", made[0].pk)
    return render(request, "clients/import.html", {"form": form, "imports": queries.imports()}, status=_status(posted))


@require_http_methods(["GET", "POST"])
def import_rows(request: HttpRequest, import_id: UUID) -> HttpResponse:
    """What would become of each row; POST brings in the good ones."""
    preview = _preview(request, import_id)
    if preview is None:
        return redirect("clients:import")
    posted = request.method == "POST"
    form = forms.BringInForm(request.POST if posted else None, lines=[row.line for row in preview.alike])
    if posted and form.carried_out(lambda data: _bring_in(request, import_id, data)):
        return redirect("clients:import")
    shown = _shown(import_id, preview) | {"form": form}
    return render(request, "clients/import_rows.html", shown, status=_status(posted))


@require_POST
def import_columns(request: HttpRequest, import_id: UUID) -> HttpResponse:
    preview = _preview(request, import_id)
    if preview is None:
        return redirect("clients:import")
    form = forms.ColumnsForm(request.POST, header=preview.header)

    def write(data: dict[str, Any]) -> object:
        told = {"columns": form.columns_told(), "days": data["days"]}
        return actions.set_columns(import_id, **told, by=me(request), now=timezone.now())

    if form.carried_out(write):
        return redirect("clients:import-rows", import_id)
    return render(request, "clients/import_rows.html", _shown(import_id, preview) | {"columns": form}, status=422)


@require_GET
def import_rest(request: HttpRequest, import_id: UUID) -> HttpResponse:
    try:
        text = actions.rest_of_list(import_id, now=timezone.now())
    except Refused as refused:
        messages.error(request, refused.reasons[0].says)
        return redirect("clients:import")
    # With its mark, so that a spreadsheet reads the signs of every script.
    answer = HttpResponse(text.encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="not-brought-in.csv"'
    answer["Cache-Control"] = "no-store"
    return answer


@require_POST
def import_leave(request: HttpRequest, import_id: UUID) -> HttpResponse:
    try:
        actions.leave_list(import_id, by=me(request), now=timezone.now())
    except Refused as refused:
        messages.error(request, refused.reasons[0].says)
    else:
        messages.success(request, "The list is thrown away; no card was made.")
    return redirect("clients:import")


@require_POST
def import_take_back(request: HttpRequest, import_id: UUID) -> HttpResponse:
    try:
        count = actions.take_back_list(import_id, by=me(request), now=timezone.now())
    except Refused as refused:
        messages.error(request, refused.reasons[0].says)
    else:
        messages.success(request, f"{count} cards are taken away again.")
    return redirect("clients:import")


def _bring_in(request: HttpRequest, import_id: UUID, data: dict[str, Any]) -> None:
    count = actions.bring_in_list(import_id, **data, by=me(request), now=timezone.now())
    messages.success(request, f"{count} {'card is' if count == 1 else 'cards are'} made.")


def _preview(request: HttpRequest, import_id: UUID) -> actions.Preview | None:
    try:
        return actions.preview_list(import_id, now=timezone.now())
    except Refused as refused:
        messages.error(request, refused.reasons[0].says)
        return None


def _shown(import_id: UUID, preview: actions.Preview) -> dict[str, Any]:
    told = {f"column_{number}": column for number, column in enumerate(preview.columns)}
    return {
        "line": queries.import_line(import_id),
        "preview": preview,
        "columns": forms.ColumnsForm(initial=told | {"days": preview.days}, header=preview.header),
        "good": preview.good[:SHOWN_GOOD],
        "alike": preview.alike[:SHOWN],
        "refused": preview.refused[:SHOWN],
        "rest": len(preview.alike) + len(preview.refused),
    }


def _status(posted: bool) -> int:
    return 422 if posted else 200
