"""Openings at the desk: the request as a sentence, what is free best first, and one button to book it."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_POST

from clients import queries as client_queries
from scheduling import actions, forms, queries
from scheduling.rules.alternatives import Asked
from studio.doors import me
from studio.rules import Reason, Refused, zones

CHANGED = {
    "machine": ("on",),
    "instructor": ("teacher",),
    "hours": ("earliest", "latest"),
    "length": ("minutes",),
    "day": ("day", "weekdays", "weeks"),
    "studio": ("studio",),
}
LONGEST, MOST = 60, 20
# What stands against the client at every hour.
NO_OTHER_TIME_HELPS = frozenset({"form_not_current", "speak_to_instructor"})


@require_http_methods(["GET", "HEAD", "POST"])
def openings(request: HttpRequest) -> HttpResponse:
    """A GET shows a request; a POST turns the name typed into a client, so that no name stands in an address."""
    if request.method != "POST":
        return render(request, "scheduling/openings.html", _found(request.GET))
    data, several = _named(request.POST)
    if several is None:
        return redirect(f"{reverse('scheduling:openings')}?{data.urlencode()}")
    choices = [(row, _address(data, client=row.id)) for row in several]
    context = _found(data) | {"who": request.POST.get("who", ""), "choices": choices, "unknown": not several}
    return render(request, "scheduling/openings.html", context)


@require_POST
def who(request: HttpRequest) -> HttpResponse:
    """Clients whose name holds what was typed, each a link that puts her into the sentence."""
    data, text = _bare(request.POST), request.POST.get("who", "")
    choices = [(row, _address(data, client=row.id)) for row in client_queries.find(text, limit=8)]
    return render(request, "scheduling/_who.html", {"choices": choices, "who": text})


def _bare(data: QueryDict) -> QueryDict:
    """The request without its client, and without what only a form carries."""
    rest = data.copy()
    for name in ("csrfmiddlewaretoken", "who", "client", "known"):
        rest.pop(name, None)
    # An address has an end: what is longer than any true answer is cut, and then refused beside its field.
    for name in list(rest):
        rest.setlist(name, [value[:LONGEST] for value in rest.getlist(name)[:MOST]])
    return rest


def _named(data: QueryDict) -> tuple[QueryDict, list[client_queries.ClientRow] | None]:
    """The request with the client named in it; a list instead when nobody or several carry that name."""
    rest, text = _bare(data), data.get("who", "").strip()
    if text and text == data.get("known"):
        rest["client"] = data.get("client", "")
    elif text:
        found = client_queries.find(text)
        if len(found) != 1:
            return rest, found
        rest["client"] = str(found[0].id)
    return rest, None


@require_POST
def book(request: HttpRequest) -> HttpResponse:
    """Book one opening; a refusal comes back on the same page, with the request as it was and what else is free."""
    form = forms.BookForm(request.POST)
    search = QueryDict(request.POST.get("search", "")[:1000])
    if not form.is_valid():
        reason = Reason("unreadable", "That opening could not be read.", allowed="Look for openings again.")
        return _refused(request, form, search, (reason,), 400)
    try:
        place = actions.book_place(**form.booking(), by=me(request), now=timezone.now())
    except Refused as refused:
        return _refused(request, form, search, refused.reasons, 409)
    return _booked(request, place.pk)


def _booked(request: HttpRequest, place_id: UUID) -> HttpResponse:
    facts = queries.place_facts(place_id)
    start = facts.start_wall
    words = (
        f"{facts.client_name} is booked on {start:%A} {start.day} {start:%B} at {start:%H:%M}, {facts.apparatus_label}."
    )
    messages.success(request, words, extra_tags=f"undo:{reverse('scheduling:take-back', args=[place_id])}")
    return redirect(f"{reverse('scheduling:day-sheet')}?day={facts.day}&place={place_id}")


def _refused(
    request: HttpRequest, form: forms.BookForm, search: QueryDict, reasons: tuple[Reason, ...], status: int
) -> HttpResponse:
    may_help = form.is_valid() and not any(reason.code in NO_OTHER_TIME_HELPS for reason in reasons)
    context = _found(search) | {"reasons": reasons, "nearest": _nearest(form) if may_help else []}
    return render(request, "scheduling/openings.html", context, status=status)


def _nearest(form: forms.BookForm) -> list[queries.OpeningView]:
    wish = form.booking()
    asked = Asked(wish["span"], wish["kind"], wish["instructor_id"], wish["apparatus_id"])
    return queries.nearest(asked, now=timezone.now(), client_id=wish["client_id"])


def _found(data: QueryDict) -> dict[str, Any]:
    """The page for a request, empty or half-filled ones too: what is missing is asked for, nothing typed is lost."""
    now = timezone.now()
    form = forms.OpeningsForm(_with_usual(data))
    context: dict[str, Any] = {"form": form, "search": data.urlencode(), "asked": bool(data)}
    if not form.is_valid():
        return context
    key = form.cleaned_data["client"]
    client = client_queries.card(key) if key else None
    context["client"] = client
    if client:
        context["standing"] = client_queries.form_standings([client.id], on=client_queries.house_day(now))[client.id]
    if data:
        found = queries.search(form.wanted(), now=now, client_id=client.id if client else None)
        relaxed = [(one, _relaxed_address(data, one)) for one in found.relaxations]
        context |= {"openings": found.openings, "relaxed": relaxed}
    return context


def _with_usual(data: QueryDict) -> QueryDict:
    """The request with what is usual here for everything it does not name."""
    full = data.copy()
    houses = queries.houses()
    today = zones.local_day(timezone.now(), houses[0].zone) if houses else timezone.now().date()
    minutes = houses[0].lesson_minutes if houses else 55
    weeks = "0" if "day" in data else "2"
    for name, usual in (("minutes", minutes), ("kind", "private"), ("day", today.isoformat()), ("weeks", weeks)):
        if not full.get(name):
            full[name] = str(usual)
    return full


def _address(data: QueryDict, **more: object) -> str:
    full = data.copy()
    for name, value in more.items():
        full[name] = str(value)
    return f"{reverse('scheduling:openings')}?{full.urlencode()}"


def _relaxed_address(data: QueryDict, one: queries.RelaxationView) -> str:
    """The same request with that one thing changed."""
    wanted, full = one.wanted, data.copy()
    for name in CHANGED[one.change]:
        full.pop(name, None)
    if one.change == "machine":
        full["on"] = str(wanted.apparatus_kind or "")
    if one.change == "hours":
        full["earliest"] = f"{wanted.earliest:%H:%M}"
        full["latest"] = f"{wanted.latest:%H:%M}" if wanted.latest else ""
    if one.change == "length":
        full["minutes"] = str(wanted.minutes)
    if one.change == "day":
        weeks = -(-((max(wanted.days) - min(wanted.days)).days + 1) // 7)
        full["day"], full["weeks"] = (
            min(wanted.days).isoformat(),
            "0" if len(wanted.days) == 1 else str(_span_of(weeks)),
        )
        full.setlist("weekdays", sorted({str(day.weekday()) for day in wanted.days}))
    return f"{reverse('scheduling:openings')}?{urlencode(list(full.lists()), doseq=True)}"


def _span_of(weeks: int) -> int:
    return next(known for known in (1, 2, 4) if known >= min(weeks, 4))
