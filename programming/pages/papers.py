"""Papers of a client: the lesson card and the home card as PDF, the log as a file for a spreadsheet."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from clients import queries as clients_queries
from programming.actions import papers as paper_actions
from programming.forms.progress import HomeCardForm
from programming.pages.reasons import ask, asks_why, reason_for
from programming.queries import papers as paper_queries
from programming.queries import programs as program_queries
from scheduling import queries as scheduling_queries
from studio import queries as studio_queries
from studio.doors import me, paper
from studio.rules import Refused


@asks_why
def lesson_card(request: HttpRequest, program_id: UUID) -> HttpResponse:
    """A program on paper, with its spring rail and room for the pencil."""
    client_id = program_queries.client_of(program_id)
    why = reason_for(request, client_id)
    try:
        opened = paper_actions.open_lesson_card(program_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    values = _head(request) | paper_queries.lesson_card(opened.view)
    return paper.answer(paper.pdf("programming/lesson_card.typ", values), name="lesson-card.pdf")


@asks_why
def home_card(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """What may go home, to choose from; posted, the card itself."""
    why = reason_for(request, client_id)
    is_deed = request.method == "POST" and "look" not in request.POST
    try:
        offered = paper_actions.home_choices(client_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    form = HomeCardForm(request.POST if is_deed else None)
    form.offer([row.exercise_id for row in offered.rows])
    if form.is_bound and form.is_valid() and (made := _made(request, client_id, form, why)):
        return made
    shown = {"offered": offered, "form": form, "chosen": request.POST.getlist("rows") if is_deed else []}
    status = 409 if form.is_bound else 200
    return render(request, "programming/home_card.html", shown, status=status)


@asks_why
def log_file(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """The finished logs as CSV; its name names nobody."""
    why = reason_for(request, client_id)
    try:
        text = paper_actions.take_out_log(client_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    answer = HttpResponse(text.encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="lesson-log.csv"'
    answer["Cache-Control"] = "no-store"
    return answer


def _made(request: HttpRequest, client_id: UUID, form: HomeCardForm, why: str) -> HttpResponse | None:
    given, now = form.cleaned_data, timezone.now()
    try:
        card = paper_actions.make_home_card(client_id, exercise_ids=given["rows"], by=me(request), now=now, why=why)
    except Refused as refused:
        for reason in refused.reasons:
            form.add_error("rows", reason.says)
        return None
    words = {"client": card.client_name, "words": given["words"], "times": given["times"], "next": _next(client_id)}
    values = _head(request) | words | paper_queries.home_card(card.rows)
    return paper.answer(paper.pdf("programming/home_card.typ", values), name="home-card.pdf")


def _next(client_id: UUID) -> str:
    """The next lesson in words; empty when none is booked."""
    coming = scheduling_queries.upcoming(client_id, now=timezone.now(), limit=1)
    return f"{(at := coming[0].start_wall):%A} {at.day} {at:%B, %H:%M}" if coming else ""


def _head(request: HttpRequest) -> dict[str, Any]:
    business, day = studio_queries.business(), clients_queries.house_day(timezone.now())
    return {
        "house": business.name if business else "",
        "emergency_number": (business.emergency_number if business else "") or "your local emergency number",
        "printed_on": f"{day.day} {day:%B %Y}",
        "printed_by": me(request).name,
    }
