"""What a new fit would change, accepted line by line; and one line of a program changed by hand."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_POST

from programming.actions import by_hand as hand_actions
from programming.actions import differences as difference_actions
from programming.forms.programs import AcceptForm, ChoiceForm
from programming.pages.reasons import ask, asks_why, reason_for
from programming.queries import programs as program_queries
from studio.doors import me
from studio.rules import Reason, Refused


@asks_why
def differences(request: HttpRequest, program_id: UUID) -> HttpResponse:
    client_id = program_queries.client_of(program_id)
    why = reason_for(request, client_id)
    reasons: tuple[Reason, ...] = ()
    if request.method == "POST" and "look" not in request.POST:
        done = _accepted(request, program_id, why)
        if isinstance(done, HttpResponse):
            return done
        reasons = done.reasons
    try:
        found = difference_actions.compare_program(program_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    page = {"found": found, "program": found.view, "reasons": reasons}
    return render(request, "programming/differences.html", page, status=409 if reasons else 200)


@asks_why
def line(request: HttpRequest, program_id: UUID, line_id: UUID) -> HttpResponse:
    client_id = program_queries.client_of(program_id)
    why = reason_for(request, client_id)
    reasons: tuple[Reason, ...] = ()
    if request.method == "POST" and "look" not in request.POST:
        done = _changed(request, program_id, line_id, why)
        if isinstance(done, HttpResponse):
            return done
        reasons = done.reasons
    try:
        found = hand_actions.open_line(program_id, line_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    page = {"found": found, "program": found.view, "line": found.line, "reasons": reasons}
    page["wanted"] = request.POST.get("choice", "") if reasons else ""
    return render(request, "programming/line.html", page, status=409 if reasons else 200)


@require_POST
def line_back(request: HttpRequest, program_id: UUID, line_id: UUID) -> HttpResponse:
    """The undo of a message: the choice in the address is made again, on the program as it was left."""
    why = reason_for(request, program_queries.client_of(program_id))
    form = ChoiceForm(request.GET)
    if not form.is_valid():
        raise Refused(Reason("choice", "Choose one of the lines shown.", "choice"))
    given = form.cleaned_data
    hand_actions.change_line(
        program_id, line_id, choice=given["choice"], reps=given["reps"], revision=given["revision"],
        by=me(request), now=timezone.now(), why=why,
    )  # fmt: skip
    messages.success(request, "As it was before.")
    return redirect("programming:program", program_id)


def _accepted(request: HttpRequest, program_id: UUID, why: str) -> HttpResponse | Refused:
    form = AcceptForm(request.POST)
    if not form.is_valid():
        return Refused(Reason("accept", "Choose line by line: the new one or the old one.", "line"))
    given = form.cleaned_data
    try:
        kept = difference_actions.accept_differences(
            program_id, accepted=given["line"], revision=given["revision"], by=me(request), now=timezone.now(), why=why
        )
    except Refused as refused:
        return refused
    messages.success(request, "Nothing had to change." if kept.pk == program_id else "Fitted again, as you chose.")
    return redirect("programming:program", kept.pk)


def _changed(request: HttpRequest, program_id: UUID, line_id: UUID, why: str) -> HttpResponse | Refused:
    form, now = ChoiceForm(request.POST), timezone.now()
    if not form.is_valid():
        return Refused([Reason("choice", str(error), name) for name, errors in form.errors.items() for error in errors])
    given = form.cleaned_data
    try:
        before = hand_actions.open_line(program_id, line_id, by=me(request), now=now, why=why)
        row = hand_actions.change_line(
            program_id, line_id, choice=given["choice"], reps=given["reps"], revision=given["revision"],
            by=me(request), now=now, why=why,
        )  # fmt: skip
    except Refused as refused:
        return refused
    was = next((one.key for one in before.choices if one.is_now), "")
    if row.revision == given["revision"] or not was:
        messages.success(request, "Kept." if was else "Changed.")
    else:
        told = urlencode({"choice": was, "reps": before.reps or "", "revision": row.revision})
        back = reverse("programming:program-line-back", args=[program_id, line_id])
        messages.success(request, "Changed.", extra_tags=f"undo:{back}?{told}")
    return redirect(f"{reverse('programming:program', args=[program_id])}#line-{before.line.no}")
