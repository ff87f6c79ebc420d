"""A client's build and measures, and the exercises whose prerequisites a teacher has waived."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clients import queries as clients_queries
from programming.actions import bodies as body_actions
from programming.actions import waivers as waiver_actions
from programming.forms.fitting import BodyForm, WaiverForm, body_initial
from programming.pages.reasons import ask, asks_why, reason_for
from programming.queries import repertoire, waivers
from programming.rules import bodies as rules
from studio.doors import me
from studio.rules import Refused

FIELDS = {"stature_mm": "stature_cm", "leg_mm": "leg_cm"}


@asks_why
def body(request: HttpRequest, client_id: UUID) -> HttpResponse:
    why, now = reason_for(request, client_id), timezone.now()
    is_posted = request.method == "POST" and "look" not in request.POST
    try:
        kept = body_actions.read_body(client_id, by=me(request), now=now, why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    form = BodyForm(request.POST if is_posted else None, initial=body_initial(kept))
    if form.is_bound and form.is_valid() and _noted(request, client_id, form, why):
        return redirect("programming:body", client_id)
    return _body_page(request, client_id, form, kept)


@require_POST
def body_back(request: HttpRequest, client_id: UUID) -> HttpResponse:
    why = reason_for(request, client_id)
    body_actions.take_back_body(client_id, by=me(request), now=timezone.now(), why=why)
    messages.success(request, "As it was noted before.")
    return redirect("programming:body", client_id)


@asks_why
def waive(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """The waivers in force, and one more for the exercise in the address."""
    why, now = reason_for(request, client_id), timezone.now()
    is_posted = request.method == "POST" and "look" not in request.POST
    try:
        lines = waiver_actions.read_waivers(client_id, by=me(request), now=now, why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    form = WaiverForm(request.POST if is_posted else None, initial={"exercise": request.GET.get("exercise", "")[:12]})
    if form.is_bound and form.is_valid() and _waived(request, client_id, form, why):
        return redirect(_back_to(request, client_id))
    return _waiver_page(request, client_id, form, lines)


@require_POST
def waiver_back(request: HttpRequest, waiver_id: UUID) -> HttpResponse:
    client_id = waivers.client_of(waiver_id)
    why = reason_for(request, client_id)
    waiver_actions.take_back_waiver(waiver_id, by=me(request), now=timezone.now(), why=why)
    messages.success(request, "Taken back. What it asks for first counts again.")
    return redirect("programming:waivers", client_id)


def _noted(request: HttpRequest, client_id: UUID, form: BodyForm, why: str) -> bool:
    try:
        body_actions.note_body(client_id, facts=form.facts, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        for reason in refused.reasons:
            field = FIELDS.get(reason.field, reason.field)
            form.add_error(field if field in form.fields else None, reason.says)
        return False
    back = f"undo:{reverse('programming:body-back', args=[client_id])}"
    messages.success(request, "Kept. Programs are compared with it when they are opened.", extra_tags=back)
    return True


def _body_page(request: HttpRequest, client_id: UUID, form: BodyForm, kept: rules.BodyFacts) -> HttpResponse:
    picked = set(form.data.getlist("notes") if form.is_bound else kept.notes)  # type: ignore[attr-defined]
    groups = [(group, [note for note in rules.NOTES if note.group == group]) for group in rules.GROUPS]
    card = clients_queries.card(client_id)
    page = {"form": form, "groups": groups, "picked": picked, "client": card, "kept": kept}
    return render(request, "programming/body.html", page, status=409 if form.errors else 200)


def _waived(request: HttpRequest, client_id: UUID, form: WaiverForm, why: str) -> bool:
    given = form.cleaned_data
    try:
        row = waiver_actions.waive(
            client_id, given["exercise"].strip(), equivalent_id=given["equivalent"].strip(), reason=given["reason"],
            by=me(request), now=timezone.now(), why=why,
        )  # fmt: skip
    except Refused as refused:
        for reason in refused.reasons:
            form.add_error(reason.field if reason.field in form.fields else None, reason.says)
        return False
    back = f"undo:{reverse('programming:waiver-back', args=[row.pk])}"
    messages.success(request, "Waived, with your name and the day.", extra_tags=back)
    return True


def _back_to(request: HttpRequest, client_id: UUID) -> str:
    """The program it was asked from, else the list of waivers."""
    program = waivers.program_of(request.GET.get("program", ""), client_id)
    return (
        reverse("programming:program", args=[program]) if program else reverse("programming:waivers", args=[client_id])
    )


def _waiver_page(
    request: HttpRequest, client_id: UUID, form: WaiverForm, lines: tuple[waiver_actions.WaiverLine, ...]
) -> HttpResponse:
    asked = form.data.get("exercise", "") if form.is_bound else form.initial["exercise"]
    page = {
        "form": form,
        "lines": lines,
        "client": clients_queries.card(client_id),
        "asks": repertoire.exercises().get(asked),
        "first": waivers.asked_first(asked),
        "equivalents": waivers.equivalents(asked),
    }
    return render(request, "programming/waivers.html", page, status=409 if form.errors else 200)
