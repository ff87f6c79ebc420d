"""One place's slip: what it is, what may become of it, and where it could go instead."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from scheduling import actions, forms, queries
from scheduling.queries import items as item_queries
from scheduling.rules.alternatives import Asked
from scheduling.rules.places import LessonKind, PlaceState, late_minutes
from studio.doors import me
from studio.rules import Reason, Refused

AFTER_NOON = 14
SAID = {
    PlaceState.HERE: "{name} is here.",
    PlaceState.CANCELLED: "{name} is cancelled.",
    PlaceState.CANCELLED_LATE: "{name} is cancelled late.",
    PlaceState.MISSED: "{name} is marked as missed.",
    PlaceState.BOOKED: "{name} is booked again.",
}


@require_safe
def place(request: HttpRequest, place_id: UUID) -> HttpResponse:
    context = slip_context(place_id, now=timezone.now())
    return _slip(request, context)


@require_POST
def mark(request: HttpRequest, place_id: UUID) -> HttpResponse:
    """Here, cancelled or missed, with an undo for eight seconds."""
    now = timezone.now()
    try:
        state = PlaceState(request.POST.get("state", ""))
        done = actions.mark_place(place_id, state=state, by=me(request), now=now)
    except ValueError:
        return _refused(request, place_id, (Reason("unknown_state", "There is no such state of a place."),), 400)
    except Refused as refused:
        return _refused(request, place_id, refused.reasons)
    return _said(request, place_id, SAID[PlaceState(done.state)], undo="scheduling:place-undo")


@require_POST
def undo(request: HttpRequest, place_id: UUID) -> HttpResponse:
    try:
        actions.undo_place(place_id, by=me(request), now=timezone.now())
    except Refused as refused:
        return _refused(request, place_id, refused.reasons)
    return _said(request, place_id, "{name} is booked again; nothing else has changed.")


@require_POST
def take_back(request: HttpRequest, place_id: UUID) -> HttpResponse:
    """The undo of a booking."""
    try:
        actions.take_back_booking(place_id, by=me(request), now=timezone.now())
    except Refused as refused:
        return _refused(request, place_id, refused.reasons)
    return _said(request, place_id, "The booking of {name} is taken back.")


def move(request: HttpRequest, place_id: UUID) -> HttpResponse:
    """The form with its effects; a POST (the undo's carries its answer in the address) moves the lesson."""
    now, facts = timezone.now(), queries.place_facts(place_id)
    data = None
    if request.method == "POST":
        data = request.POST if "start" in request.POST else request.GET
    form = forms.MoveForm(data, place=facts)
    reasons: tuple[Reason, ...] = ()
    if data is not None and form.is_valid():
        try:
            _move(request, form, facts, now)
            return _said(request, place_id, "{name} has moved.", undo="scheduling:move", back=facts)
        except Refused as refused:
            reasons = refused.reasons
    return _move_form(request, form, facts, reasons, now)


def _move(request: HttpRequest, form: forms.MoveForm, facts: queries.PlaceFacts, now: datetime) -> None:
    actions.move_lesson(
        facts.lesson_id,
        span=form.span(facts.zone),
        instructor_id=form.cleaned_data["instructor"],
        apparatus={facts.place_id: form.cleaned_data["apparatus"]},
        by=me(request),
        now=now,
    )


def _move_form(
    request: HttpRequest,
    form: forms.MoveForm,
    facts: queries.PlaceFacts,
    reasons: tuple[Reason, ...],
    now: datetime,
) -> HttpResponse:
    context = slip_context(facts.place_id, now=now) | {"form": form, "reasons": reasons, "moving": True}
    if reasons and form.is_valid():
        data = form.cleaned_data
        context["nearest"] = nearest(facts, now, form.span(facts.zone), data["instructor"], data["apparatus"])
    return _slip(request, context, 409 if reasons else 422 if form.is_bound else 200)


@require_POST
def cancel_lesson(request: HttpRequest, place_id: UUID) -> HttpResponse:
    facts = queries.place_facts(place_id)
    try:
        actions.cancel_lesson(facts.lesson_id, by=me(request), now=timezone.now())
    except Refused as refused:
        return _refused(request, place_id, refused.reasons)
    words = "The whole lesson is cancelled; everyone in it is written to."
    return _said(request, place_id, words, undo="scheduling:bring-back-lesson")


@require_POST
def bring_back_lesson(request: HttpRequest, place_id: UUID) -> HttpResponse:
    facts = queries.place_facts(place_id)
    try:
        actions.bring_back_lesson(facts.lesson_id, by=me(request), now=timezone.now())
    except Refused as refused:
        return _refused(request, place_id, refused.reasons)
    return _said(request, place_id, "The lesson takes place again.")


def slip_context(place_id: UUID | None, *, now: datetime) -> dict[str, Any]:
    """What `_place.html` reads. Raises Place.DoesNotExist."""
    if place_id is None:
        return {}
    found = queries.slip(place_id, now=now)
    facts = found.place
    context = {"slip": found, "at_start": facts.start_wall.hour >= AFTER_NOON, "is_private": _private(facts)}
    context["holds"] = item_queries.holds_of([place_id])
    context["shares"] = bool(context["holds"]) or item_queries.shares_anything(facts.studio_id)
    context["late"] = late_minutes(facts.state, facts.span, now) if facts.live else 0
    if found.may_move and context["is_private"]:
        context["nearest"] = nearest(facts, now, facts.span, facts.instructor_id, facts.apparatus_id)
    return context


def nearest(
    facts: queries.PlaceFacts, now: datetime, span: Any, instructor_id: int, apparatus_id: int
) -> list[queries.OpeningView]:
    """Where else this lesson fits near `span`; the time it has now is left out."""
    asked = Asked(span, facts.lesson_kind, instructor_id, apparatus_id)
    found = queries.nearest(asked, now=now, client_id=facts.client_id, lesson_id=facts.lesson_id)
    there = (facts.span, facts.instructor_id, facts.apparatus_id)
    return [one for one in found if (one.span, one.instructor_id, one.apparatus_id) != there]


def _private(facts: queries.PlaceFacts) -> bool:
    return facts.lesson_kind is LessonKind.PRIVATE


def _slip(request: HttpRequest, context: dict[str, Any], status: int = 200) -> HttpResponse:
    template = "scheduling/_place.html" if request.headers.get("HX-Request") else "scheduling/place.html"
    return render(request, template, context, status=status)


def _refused(request: HttpRequest, place_id: UUID, reasons: tuple[Reason, ...], status: int = 409) -> HttpResponse:
    return _slip(request, slip_context(place_id, now=timezone.now()) | {"reasons": reasons}, status)


def _said(
    request: HttpRequest, place_id: UUID, words: str, *, undo: str = "", back: queries.PlaceFacts | None = None
) -> HttpResponse:
    """The slip as it is now with a message (and its undo); without script the day sheet with the slip open."""
    facts = queries.place_facts(place_id)
    tags = f"undo:{reverse(undo, args=[place_id])}{_where(back)}" if undo else ""
    messages.success(request, words.format(name=facts.client_name), extra_tags=tags)
    if request.headers.get("HX-Request"):
        response = _slip(request, slip_context(place_id, now=timezone.now()) | {"said": True})
        response["HX-Trigger"] = "places-changed"
        return response
    return redirect(f"{reverse('scheduling:day-sheet')}?day={facts.day}&place={place_id}")


def _where(place: queries.PlaceFacts | None) -> str:
    if place is None:
        return ""
    was: dict[str, str | int] = {
        "day": place.day.isoformat(),
        "start": f"{place.start_wall:%H:%M}",
        "minutes": int(place.span.minutes),
        "instructor": place.instructor_id,
        "apparatus": place.apparatus_id,
    }
    return f"?{urlencode(was)}"
