"""The run sheet at the machine: one tap a line, with htmx or without."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from programming import actions
from programming.forms import LineForm, MarkForm, NoteForm, ScoreForm
from programming.queries import clients as known_clients
from programming.queries import load as load_queries
from programming.queries import sheets
from programming.rules.load import EFFORT_WORDS
from studio.doors import me
from studio.rules import Reason, Refused

NO_LINE = Reason("no_line", "That line is not on this run sheet.", "line", "open the run sheet again")


@require_safe
def run_sheet(request: HttpRequest, place_id: UUID) -> HttpResponse:
    """The line to do now; a finished lesson shows its log."""
    sheet = actions.open_sheet(place_id, by=me(request), now=timezone.now(), line_id=_line(request))
    if sheet.finished_at:
        return render(request, "programming/log.html", _finished(sheet))
    if sheet.program_id is None:
        return render(request, "programming/run_nothing.html", {"sheet": sheet})
    return render(request, "programming/run_sheet.html", {"sheet": sheet})


@require_safe
def run_lines(request: HttpRequest, place_id: UUID) -> HttpResponse:
    sheet = actions.open_sheet(place_id, by=me(request), now=timezone.now())
    if sheet.finished_at or sheet.program_id is None:
        return redirect("programming:run-sheet", place_id)
    return render(request, "programming/run_lines.html", {"sheet": sheet})


@require_POST
def mark(request: HttpRequest, place_id: UUID) -> HttpResponse:
    form = MarkForm(request.POST)
    if not form.is_valid():
        raise Refused(NO_LINE)
    line, word = form.cleaned_data["line"], form.cleaned_data["mark"]
    actions.mark_place_line(place_id, line_id=line, mark=word, by=me(request), now=timezone.now())
    return _turned(request, place_id)


@require_POST
def undo(request: HttpRequest, place_id: UUID) -> HttpResponse:
    """Back to the line whose mark was taken away."""
    form = LineForm(request.POST)
    if not form.is_valid():
        raise Refused(NO_LINE)
    line = form.cleaned_data["line"]
    actions.undo_line(_log_of(place_id), line_id=line, by=me(request), now=timezone.now())
    return _turned(request, place_id, line)


@require_POST
def score(request: HttpRequest, place_id: UUID) -> HttpResponse:
    form = ScoreForm(request.POST)
    if not form.is_valid():
        raise Refused(Reason("score", "A score is between 0 and 5.", "score", "0 to 5"))
    line, given = form.cleaned_data["line"], form.cleaned_data["score"]
    actions.score_line(_log_of(place_id), line_id=line, score=given, by=me(request), now=timezone.now())
    return _turned(request, place_id)


@require_http_methods(["GET", "HEAD", "POST"])
def note(request: HttpRequest, place_id: UUID) -> HttpResponse:
    now, log_id = timezone.now(), _log_of(place_id)
    form = NoteForm(request.POST or None, initial={"note": ""})
    if form.is_bound and form.is_valid():
        actions.note_log(log_id, note=form.cleaned_data["note"], by=me(request), now=now)
        messages.success(request, "The note is kept.")
        return redirect("programming:run-sheet", place_id)
    if not form.is_bound:
        form.initial["note"] = actions.read_note(log_id, by=me(request), now=now)
    sheet = actions.open_sheet(place_id, by=me(request), now=now)
    return render(request, "programming/note.html", {"form": form, "sheet": sheet})


@require_POST
def finish(request: HttpRequest, place_id: UUID) -> HttpResponse:
    finish = actions.finish_as_planned if request.POST.get("rest") == "done" else actions.finish_log
    finish(_log_of(place_id), by=me(request), now=timezone.now())
    messages.success(request, "The lesson is finished and its log is kept.")
    return redirect("programming:run-sheet", place_id)


def _turned(request: HttpRequest, place_id: UUID, line_id: UUID | None = None) -> HttpResponse:
    """What the sheet shows now: the fragment for htmx, the page again for a plain form."""
    if request.headers.get("HX-Request"):
        sheet = actions.open_sheet(place_id, by=me(request), now=timezone.now(), line_id=line_id)
        return render(request, "programming/_run_answer.html", {"sheet": sheet})
    back = reverse("programming:run-sheet", args=[place_id])
    return redirect(f"{back}?line={line_id}" if line_id else back)


def _log_of(place_id: UUID) -> UUID:
    log_id = sheets.log_of(place_id)
    if log_id is None:
        raise Refused(Reason("no_log", "Nothing of this lesson has been marked yet.", allowed="mark a line first"))
    return log_id


def _line(request: HttpRequest) -> UUID | None:
    form = LineForm(request.GET)
    return form.cleaned_data["line"] if form.is_valid() else None


def _finished(sheet: sheets.RunSheet) -> dict[str, Any]:
    return {
        "sheet": sheet,
        "reviews": known_clients.reviews_of(sheet.place.client_id, on=sheet.place.day),
        "effort": load_queries.effort_of(sheet.place.place_id),
        "effort_words": EFFORT_WORDS,
    }
