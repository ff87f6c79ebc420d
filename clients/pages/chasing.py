"""Letters that are waited for: the list to chase, the reminder, and the paper that asks a clinician."""

from dataclasses import asdict, dataclass
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import actions, forms, queries
from clients.pages.letters import ask_why, why_of
from studio.doors import me, paper
from studio.rules import Refused, Role

PAPER = "clients/letter_request.typ"


@dataclass(frozen=True)
class Waiting:
    """A client who waits, with what is asked for her where whoever looks may read it."""

    row: queries.WaitedRow
    asks: tuple[str, ...] = ()


@require_GET
def papers_desk(request: HttpRequest) -> HttpResponse:
    """The desk's list: who, since when, what was done; never why."""
    rows = queries.letters_waited_for(now=timezone.now())
    shown = {"waiting": [Waiting(row) for row in rows], "teachers": queries.teachers()}
    return render(request, "clients/papers.html", shown)


@require_GET
def papers_floor(request: HttpRequest) -> HttpResponse:
    """A teacher's own clients, with the why of those she cares for today; an owner sees everybody, and no why here."""
    person, now = me(request), timezone.now()
    rows = queries.letters_waited_for(now=now, person=None if person.has_role(Role.OWNER) else person)
    asks = actions.read_asks(by=person, now=now)
    waiting = [Waiting(row, asks.get(row.id, ())) for row in rows]
    shown = {"waiting": waiting, "floor": True, "letters": queries.letters_to_read(now=now, person=person)}
    return render(request, "clients/papers_floor.html", shown)


@require_POST
def paper_remind(request: HttpRequest, request_id: UUID) -> HttpResponse:
    try:
        actions.remind_now(request_id, by=me(request), now=timezone.now())
        messages.success(request, "The reminder is on its way. It says that a paper is waited for, and nothing more.")
    except Refused as refused:
        messages.error(request, " ".join(reason.says for reason in refused.reasons))
    at_desk = me(request).has_role(Role.DESK, Role.OWNER)
    return redirect("clients:papers" if at_desk else "clients:papers-floor")


@require_http_methods(["GET", "POST"])
def paper_request(request: HttpRequest, request_id: UUID) -> HttpResponse:
    """What the paper will say, before it is printed."""
    form = forms.WhyForm(request.POST or None)
    why = form.cleaned_data["why"] if form.is_bound and form.is_valid() else ""
    try:
        found = actions.read_request(request_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask_why(request, refused, form, queries.client_of_request(request_id))
    return render(request, "clients/letter_request.html", {"paper": found, "request_id": request_id, "why": why})


@require_POST
def paper_print(request: HttpRequest, request_id: UUID) -> HttpResponse:
    why = why_of(request)
    try:
        found = actions.print_request(request_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask_why(request, refused, forms.WhyForm(), queries.client_of_request(request_id))
    values = asdict(found) | {
        "born_on": f"{found.born_on:%d.%m.%Y}" if found.born_on else "",
        "printed_on": f"{found.printed_on.day} {found.printed_on:%B %Y}",
    }
    return paper.answer(paper.pdf(PAPER, values), name="letter-request.pdf")
