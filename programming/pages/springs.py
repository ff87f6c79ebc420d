"""Springs for teachers: a series on another machine, and the force and work of a program for its client."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from programming.actions import springs as spring_actions
from programming.forms.springs import TranslateForm, WorkForm
from programming.pages.reasons import ask, asks_why, reason_for
from programming.queries import programs as program_queries
from programming.queries import springs as spring_queries
from programming.queries.springs import Translation
from programming.queries.work import Wanted
from studio.doors import me
from studio.rules import Refused


@require_safe
def translate(request: HttpRequest) -> HttpResponse:
    """A series or template put on a machine; asked for by its query, so that an answer can be kept and sent on."""
    form = TranslateForm(request.GET if "what" in request.GET else None, now=timezone.now())
    found: list[Translation] = []
    if form.is_bound:
        form.carried_out(lambda data: found.append(_translation(form, data)))
    context = {"form": form, "found": found[0] if found else None}
    return render(request, "programming/translate.html", context, status=422 if form.errors else 200)


def _translation(form: TranslateForm, data: dict[str, Any]) -> Translation:
    lines = spring_queries.lines_of(data["what"])
    return spring_queries.translation(lines, form.machines[data["machine"]], form.machines.get(data["origin"]))


@asks_why
def program_work(request: HttpRequest, program_id: UUID) -> HttpResponse:
    """Every line of a program with springs: force at rest and at full travel, work, and beside last time."""
    return _work(request, program_id, "programming/work.html")


@asks_why
def line_work(request: HttpRequest, program_id: UUID, line_id: UUID) -> HttpResponse:
    """One line's springs: the fragment for htmx, a page for a plain link."""
    template = "programming/_line_work.html" if request.headers.get("HX-Request") else "programming/line_work.html"
    return _work(request, program_id, template, line_id)


def _work(request: HttpRequest, program_id: UUID, template: str, line_id: UUID | None = None) -> HttpResponse:
    client_id, form = program_queries.client_of(program_id), WorkForm(request.GET)
    wanted = form.wanted(line_id) if form.is_valid() else Wanted(line_id)
    why = reason_for(request, client_id)
    try:
        sheet = spring_actions.read_work(program_id, by=me(request), now=timezone.now(), why=why, wanted=wanted)
    except Refused as refused:
        return ask(request, client_id, refused)
    context = {"sheet": sheet, "form": form, "line": sheet.lines[0] if line_id else None}
    return render(request, template, context, status=422 if form.errors else 200)
