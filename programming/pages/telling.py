"""What a client tells of a lesson: what was felt at a line, how hard the whole was; and a finished log opened again."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from programming import actions
from programming.actions import telling
from programming.forms import LineForm
from programming.forms.progress import EffortForm, FeltForm
from programming.queries import sheets, stop_signs
from programming.rules.felt import Felt
from programming.rules.load import EFFORT_WORDS
from studio.doors import me
from studio.rules import Reason, Refused

NO_LINE = Reason("no_line", "That line is not on this run sheet.", "line", "open the run sheet again")
NO_LOG = Reason("no_log", "Nothing of this lesson has been marked yet.", allowed="mark a line first")


@require_http_methods(["GET", "HEAD", "POST"])
def felt(request: HttpRequest, place_id: UUID) -> HttpResponse:
    """Pain in one tap, a word for what else it was, and from the day after on whether it is still there."""
    form = FeltForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid() and _told(request, place_id, form):
        return redirect("programming:run-sheet", place_id)
    sheet = actions.open_sheet(place_id, by=me(request), now=timezone.now())
    line = _line(request, sheet)
    if line is None:
        messages.info(request, "Mark the line first, then say what was felt.")
        return redirect("programming:run-sheet", place_id)
    return _felt_page(request, sheet, line, form)


def _line(request: HttpRequest, sheet: sheets.RunSheet) -> sheets.SheetLine | None:
    """The marked line that is asked for, or the one marked last; None when nothing is marked."""
    given = request.POST if request.method == "POST" else request.GET
    if "line" not in given:
        return sheet.last
    asked = LineForm(given)
    wanted = asked.cleaned_data["line"] if asked.is_valid() else None
    found = next((one for one in sheet.taught if one.line.id == wanted and one.marked), None)
    if found is None:
        raise Refused(NO_LINE)
    return found


def _felt_page(request: HttpRequest, sheet: sheets.RunSheet, line: sheets.SheetLine, form: FeltForm) -> HttpResponse:
    place_id, line_id = sheet.place.place_id, line.line.id
    kept = telling.read_felt(_log_of(place_id), line_id=line_id, by=me(request), now=timezone.now())
    pain = "" if kept.pain is None else kept.pain
    form.initial = {"pain": pain, "symptom": kept.symptom, "lasting": kept.lasting}
    others = [one for one in sheet.taught if one.marked and one.line.id != line_id]
    shown = {"sheet": sheet, "line": line, "others": others, "form": form, "stop_signs": stop_signs.stop_signs()}
    return render(request, "programming/felt.html", shown, status=409 if form.is_bound and form.errors else 200)


@require_POST
def effort(request: HttpRequest, place_id: UUID) -> HttpResponse:
    form = EffortForm(request.POST)
    if not form.is_valid():
        raise Refused(Reason("effort", "How hard it felt is between 0 and 10.", "effort", "0 to 10"))
    given = form.cleaned_data["effort"]
    telling.rate_lesson(_log_of(place_id), effort=given, by=me(request), now=timezone.now())
    undo = reverse("programming:effort-back", args=[place_id])
    messages.success(request, f"Kept: {given}, {EFFORT_WORDS[given]}.", extra_tags=f"undo:{undo}")
    return redirect("programming:run-sheet", place_id)


@require_POST
def effort_back(request: HttpRequest, place_id: UUID) -> HttpResponse:
    telling.take_back_effort(_log_of(place_id), by=me(request), now=timezone.now())
    messages.success(request, "Taken back. The lesson has no number again.")
    return redirect("programming:run-sheet", place_id)


@require_POST
def reopen(request: HttpRequest, place_id: UUID) -> HttpResponse:
    actions.reopen_log(_log_of(place_id), by=me(request), now=timezone.now())
    messages.success(request, "The log is open again.")
    return redirect("programming:run-sheet", place_id)


def _told(request: HttpRequest, place_id: UUID, form: FeltForm) -> bool:
    told: Felt = form.felt
    line = form.cleaned_data["line"]
    try:
        telling.tell_felt(_log_of(place_id), line_id=line, felt=told, by=me(request), now=timezone.now())
    except Refused as refused:
        for reason in refused.reasons:
            form.add_error(reason.field if reason.field in form.fields else None, reason.says)
        return False
    sign = stop_signs.stop_sign(told.stop_sign)
    messages.success(request, "Taken away." if told.is_nothing else "Kept sealed.")
    if sign:
        messages.warning(request, f"A stop sign. {sign.action.capitalize()}.")
    return True


def _log_of(place_id: UUID) -> UUID:
    log_id = sheets.log_of(place_id)
    if log_id is None:
        raise Refused(NO_LOG)
    return log_id
