"""Letters from clinicians: handed in by anybody, read beside a form by a teacher, and each page served through here."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, cast
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import actions, forms, queries
from clients.rules import files as file_rules
from clients.rules import terms as rules
from studio.doors import me
from studio.doors.fields import posted
from studio.rules import Refused, Role

# Of an answer that is a file of somebody else's making: it may do nothing, and no other page may frame it.
SANDBOX = "sandbox; default-src 'none'; frame-ancestors 'none'"


@dataclass(frozen=True)
class Tick:
    """A movement to tick: limited now or not, ticked or not."""

    id: str
    name: str
    definition: str
    is_limited: bool
    is_ticked: bool


@require_http_methods(["GET", "POST"])
def hand_in(request: HttpRequest, client_id: UUID) -> HttpResponse:
    form = forms.HandInForm(posted(request), initial={"routed_to": queries.usual_teacher(client_id)})

    def keep(data: dict[str, Any]) -> object:
        pages = [*sent(request, "file"), *sent(request, "photo")]
        return actions.hand_in(client_id, pages=pages, routed_to=data["routed_to"], by=me(request), now=timezone.now())

    if request.method == "POST" and form.carried_out(keep):
        messages.success(request, "The letter is kept. It changes nothing until a teacher has read it.")
        return redirect("clients:card", client_id)
    status = 409 if form.is_bound and form.errors else 200
    return render(
        request, "clients/letter_hand_in.html", {"form": form, "client": queries.card(client_id)}, status=status
    )


@require_http_methods(["GET", "POST"])
def letter(request: HttpRequest, letter_id: UUID) -> HttpResponse:
    """A teacher with care reads at once; anybody else first says why, in the body of a request."""
    form = forms.WhyForm(request.POST or None)
    why = form.cleaned_data["why"] if form.is_bound and form.is_valid() else ""
    try:
        return _shown(request, letter_id, why=why)
    except Refused as refused:
        return ask_why(request, refused, form, queries.client_of_letter(letter_id))


@require_POST
def letter_confirm(request: HttpRequest, letter_id: UUID) -> HttpResponse:
    """Read the terms back first; the same terms sent again are confirmed."""
    by, now, why = me(request), timezone.now(), why_of(request)
    try:
        found = actions.read_letter(letter_id, by=by, now=now, why=why)
    except Refused as refused:
        return ask_why(request, refused, forms.WhyForm(), queries.client_of_letter(letter_id))
    form, does = forms.LetterForm(request.POST, letter=found), []
    if form.carried_out(lambda _: does.append(_confirmed(form, found, request))) and does == [None]:
        messages.success(request, "Confirmed in your name, and screened again.")
        return redirect("clients:letters", found.client_id)
    return _page(request, found, form, why=why, does=does[0] if does else None, status=200 if does else 409)


@require_POST
def letter_end(request: HttpRequest, letter_id: UUID) -> HttpResponse:
    form = forms.OfTheFloorForm(request.POST)
    return _done(request, letter_id, form, actions.end_letter, says="Ended in your name, and screened again.")


@require_POST
def letter_aside(request: HttpRequest, letter_id: UUID) -> HttpResponse:
    form = forms.AsideForm(request.POST)
    return _done(request, letter_id, form, actions.set_aside, says="Set aside in your name. Nothing else changed.")


@require_POST
def letter_route(request: HttpRequest, letter_id: UUID) -> HttpResponse:
    form = forms.HandInForm(request.POST)

    def route(data: dict[str, Any]) -> object:
        return actions.route_letter(letter_id, to=data["routed_to"] or 0, by=me(request), now=timezone.now())

    if form.carried_out(route):
        messages.success(request, "Laid there: the teacher is told that a paper waits.")
    else:
        messages.error(request, " ".join(str(says) for told in form.errors.values() for says in told))
    return redirect("clients:papers")


@require_GET
def letters(request: HttpRequest, client_id: UUID) -> HttpResponse:
    found = queries.letters_of(client_id, now=timezone.now())
    waits = None if any(one.state == "unread" for one in found) else queries.open_request(client_id)
    return render(
        request, "clients/letters.html", {"client": queries.card(client_id), "letters": found, "waits": waits}
    )


@require_GET
def letters_panel(request: HttpRequest) -> HttpResponse:
    """Letters that lie with whoever is looking; an owner sees those too that lie with nobody."""
    found = queries.letters_to_read(now=timezone.now(), person=me(request))
    return render(request, "clients/_letters_to_read.html", {"letters": found})


@require_GET
def letter_file(request: HttpRequest, file_id: UUID) -> HttpResponse:
    return served(actions.read_file(file_id, by=me(request), now=timezone.now()))


def served(opened: actions.OpenedFile) -> HttpResponse:
    """A kept file, for this one look: a picture inside a page, a PDF to be opened by the tablet's own reader."""
    answer = HttpResponse(opened.content, content_type=opened.media_type)
    how = "inline" if opened.media_type == file_rules.JPEG else "attachment"
    answer["Content-Disposition"] = f'{how}; filename="{opened.name}"'
    answer["Cache-Control"] = "no-store"
    answer["Content-Security-Policy"] = SANDBOX
    answer["Cross-Origin-Resource-Policy"] = "same-origin"
    return answer


def sent(request: HttpRequest, name: str) -> Iterable[bytes]:
    """The files of one field, each read no further than one byte past the largest that is taken."""
    return (file.read(file_rules.MOST_BYTES + 1) for file in request.FILES.getlist(name))


def why_of(request: HttpRequest) -> str:
    """The reason that goes along with what is sent; none when it is no reason."""
    form = forms.OfTheFloorForm(request.POST)
    return str(form.cleaned_data["why"]) if form.is_valid() else ""


def ask_why(request: HttpRequest, refused: Refused, form: forms.WhyForm, client_id: UUID) -> HttpResponse:
    shown = {"form": form, "client": queries.card(client_id), "reasons": refused.reasons}
    return render(request, "clients/letter_why.html", shown, status=200 if request.method == "GET" else 409)


def _confirmed(form: forms.LetterForm, found: actions.ReadLetter, request: HttpRequest) -> rules.Doing | None:
    """None when it is confirmed; else what confirming would do, to be read first."""
    told = {"by": me(request), "now": timezone.now(), "why": form.cleaned_data["why"]}
    entered, does = actions.read_back(found.id, entered=form.entered(), **told)
    if form.cleaned_data["seen"] != rules.mark_of(entered, does):
        read_now = cast(QueryDict, form.data).copy()
        read_now["seen"] = rules.mark_of(entered, does)
        form.data = read_now
        return does
    actions.confirm_letter(found.id, entered=entered, **told)
    return None


def _done(
    request: HttpRequest, letter_id: UUID, form: forms.OfTheFloorForm, deed: Callable[..., object], *, says: str
) -> HttpResponse:
    client_id = queries.client_of_letter(letter_id)
    if form.carried_out(lambda data: deed(letter_id, **data, by=me(request), now=timezone.now())):
        messages.success(request, says)
        return redirect("clients:letters", client_id)
    try:
        return _shown(request, letter_id, why=form.cleaned_data.get("why", ""), status=409, refused=form)
    except Refused as refused:
        return ask_why(request, refused, forms.WhyForm(), client_id)


def _shown(request: HttpRequest, letter_id: UUID, *, why: str, status: int = 200, **more: Any) -> HttpResponse:
    found = actions.read_letter(letter_id, by=me(request), now=timezone.now(), why=why)
    form = forms.LetterForm(letter=found, initial={"why": why})
    return _page(request, found, form, why=why, status=status, **more)


def _page(
    request: HttpRequest, found: actions.ReadLetter, form: forms.LetterForm, *, why: str, status: int, **more: Any
) -> HttpResponse:
    aside = more["refused"] if isinstance(more.get("refused"), forms.AsideForm) else forms.AsideForm()
    aside.initial["why"] = why
    shown = {
        "letter": found,
        "form": form,
        "aside": aside,
        "why": why,
        "may_end": me(request).has_role(Role.INSTRUCTOR),
    }
    shown["reviewed_on"] = queries.rules_in_force().reviewed_on
    shown |= {"allows": _ticks(found, form, "allows"), "forbids": _ticks(found, form, "forbids")}
    return render(request, "clients/letter.html", shown | more, status=status)


def _ticks(found: actions.ReadLetter, form: forms.LetterForm, field: str) -> list[tuple[str, list[Tick], bool]]:
    """The movements in their groups: title, ticks, whether any is ticked; what was read stands ticked."""
    read = getattr(found.terms, field) if found.terms else ()
    ticked = set(cast(QueryDict, form.data).getlist(field)) if form.is_bound else set(read)
    demands = queries.rules_in_force().rulebook.demands
    groups = []
    for title, ids in rules.GROUPS:
        kept = [(key, demands[key]) for key in ids if key in demands]
        ticks = [Tick(key, one.name, one.definition, key in found.limited, key in ticked) for key, one in kept]
        groups.append((title, ticks, any(tick.is_ticked for tick in ticks)))
    return groups
