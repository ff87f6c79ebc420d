"""The health form by its private link: one question a screen, saved as it goes, read back, signed."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from clients import actions, forms
from clients.rules import form as rules
from studio import queries as studio_queries

MOST_WORDS = 20_000


@dataclass(frozen=True)
class Ask:
    """A field as it is drawn: what was told stands in it, and its error beside it."""

    field: rules.Field
    told: Any
    error: str
    shared_help: str

    @property
    def shape(self) -> str:
        kind = self.field.kind
        if kind in (rules.FieldKind.YES_NO, rules.FieldKind.YES_NO_UNSURE, rules.FieldKind.CHOICE):
            return "one"
        return {rules.FieldKind.MANY: "many", rules.FieldKind.TEXT: "words"}.get(kind, "line")

    @property
    def input_type(self) -> str:
        return "date" if self.field.kind is rules.FieldKind.DATE else "text"

    @property
    def is_number(self) -> bool:
        return self.field.kind is rules.FieldKind.NUMBER

    @property
    def described(self) -> str:
        if self.field.help and self.field.help == self.shared_help:
            help_id = "shared_help"
        else:
            help_id = f"{self.field.id}_help" if self.field.help else ""
        return " ".join(filter(None, [help_id, f"{self.field.id}_error" if self.error else ""]))


@require_GET
def form(request: HttpRequest, token: str) -> HttpResponse:
    """The door: what this is and who reads it; a form that was begun goes on where it was left."""
    try:
        opened = actions.open_form(token, now=timezone.now())
    except actions.LinkGone as gone:
        return _gone(request, gone, token)
    place = _place(opened)
    if place == "emergency":
        return redirect("clients:form-screen", token, place)
    shown = {"opened": opened, "token": token, "go_on": place, "business": studio_queries.business()}
    return render(request, "clients/form_door.html", shown)


@require_http_methods(["GET", "POST"])
def form_screen(request: HttpRequest, token: str, screen_id: str) -> HttpResponse:
    try:
        if request.method == "POST":
            return _save(request, token, screen_id)
        opened = actions.open_form(token, now=timezone.now())
    except actions.LinkGone as gone:
        return _gone(request, gone, token)
    return _ask(request, token, screen_id, opened, {}, {})


@require_http_methods(["GET", "POST"])
def form_card(request: HttpRequest, token: str) -> HttpResponse:
    try:
        if request.method == "POST":
            return _sign(request, token)
        opened = actions.open_form(token, now=timezone.now())
    except actions.LinkGone as gone:
        return _gone(request, gone, token)
    return _card(request, token, opened, forms.SignForm(), {})


@require_GET
def form_later(request: HttpRequest, token: str) -> HttpResponse:
    try:
        opened = actions.open_form(token, now=timezone.now())
    except actions.LinkGone as gone:
        return _gone(request, gone, token)
    return render(request, "clients/form_later.html", {"opened": opened, "token": token, "go_on": _place(opened)})


@require_GET
def form_signed(request: HttpRequest, token: str) -> HttpResponse:
    try:
        signed = actions.signed_outcome(token, now=timezone.now())
    except actions.LinkGone as gone:
        return _gone(request, gone, token)
    return render(request, "clients/form_signed.html", {"signed": signed, "business": studio_queries.business()})


def _place(opened: actions.OpenForm) -> str:
    """The id of the screen to go on with; the card's when all is answered."""
    due = _due(opened)
    ids = [screen.id for screen in due]
    if due[-1].kind == "emergency":
        return due[-1].id
    if opened.at_screen in ids:
        return opened.at_screen
    following = rules.next_screen(opened.rulebook, opened.answers, on=opened.today, born_on=opened.born_on)
    return following.id if following else "card"


def _due(opened: actions.OpenForm) -> list[rules.Screen]:
    return rules.screens(opened.rulebook, opened.answers, on=opened.today, born_on=opened.born_on)


def _save(request: HttpRequest, token: str, screen_id: str) -> HttpResponse:
    posted = dict(request.POST.lists())
    saved = actions.save_screen(token, screen_id=screen_id, posted=posted, now=timezone.now())
    # What is only missing may wait when somebody goes on later; what cannot be right may not.
    is_later = "later" in posted
    errors = {key: says for key, says in saved.errors.items() if not is_later or any(posted.get(key, []))}
    if errors:
        opened = actions.open_form(token, now=timezone.now())
        return _ask(request, token, screen_id, opened, errors, posted)
    if is_later and not saved.is_emergency:
        return redirect("clients:form-later", token)
    if saved.next_screen:
        return redirect("clients:form-screen", token, saved.next_screen)
    return redirect("clients:form-card", token)


def _ask(
    request: HttpRequest,
    token: str,
    screen_id: str,
    opened: actions.OpenForm,
    errors: Mapping[str, str],
    posted: Mapping[str, list[str]],
) -> HttpResponse:
    due = _due(opened)
    at = next((at for at, one in enumerate(due) if one.id == screen_id), None)
    if at is None:
        return redirect("clients:form", token)
    if due[at].kind == "emergency":
        return _emergency(request, token, due)
    screen = due[at]
    shared_help = _shared_help(screen)
    shown: dict[str, Any] = {
        "screen": screen,
        "asks": [_as_drawn(field, opened.answers, errors, posted, shared_help) for field in screen.fields],
        "errors": [(field, errors[field.id]) for field in screen.fields if field.id in errors],
        "shared_help": shared_help,
        "token": token,
        "at": at + 1,
        "of": sum(one.kind != "emergency" for one in due),
        "before": due[at - 1].id if at else "",
        "opened": opened,
    }
    return render(request, "clients/form_screen.html", shown, status=422 if errors else 200)


def _emergency(request: HttpRequest, token: str, due: list[rules.Screen]) -> HttpResponse:
    shown = {"screen": due[-1], "begun": due[:-1], "token": token, "business": studio_queries.business()}
    return render(request, "clients/form_emergency.html", shown)


def _shared_help(screen: rules.Screen) -> str:
    """A hint that every field of the screen carries is said once, above them all."""
    helps = {field.help for field in screen.fields}
    return helps.pop() if len(screen.fields) > 1 and len(helps) == 1 else ""


def _as_drawn(
    field: rules.Field,
    answers: Mapping[str, Any],
    errors: Mapping[str, str],
    posted: Mapping[str, list[str]],
    shared_help: str,
) -> Ask:
    told = answers.get(field.id)
    if field.id in errors:
        sent = [words[:MOST_WORDS] for words in posted.get(field.id, [])]
        told = sent if field.kind is rules.FieldKind.MANY else " ".join(sent)
    elif field.kind is rules.FieldKind.PRESSURE and isinstance(told, dict):
        told = f"{told['systolic']}/{told['diastolic']}"
    elif told is None:
        told = ""
    return Ask(field, told, errors.get(field.id, ""), shared_help)


def _card(
    request: HttpRequest, token: str, opened: actions.OpenForm, form: forms.SignForm, said: dict[str, Any]
) -> HttpResponse:
    due = _due(opened)
    if due[-1].kind == "emergency":
        return redirect("clients:form-screen", token, due[-1].id)
    shown = {
        "opened": opened,
        "lines": rules.summary(opened.rulebook, opened.answers, on=opened.today, born_on=opened.born_on),
        "missing": rules.unanswered(opened.rulebook, opened.answers, opened.today, born_on=opened.born_on),
        "last": due[-1].id,
        "form": form,
        "token": token,
        "business": studio_queries.business(),
    }
    return render(request, "clients/form_card.html", shown | said, status=422 if form.errors else 200)


def _sign(request: HttpRequest, token: str) -> HttpResponse:
    form = forms.SignForm(request.POST)
    if form.carried_out(lambda data: actions.sign_form(token, **data, now=timezone.now())):
        return redirect("clients:form-signed", token)
    return _card(request, token, actions.open_form(token, now=timezone.now()), form, {"asked": True})


def _gone(request: HttpRequest, gone: actions.LinkGone, token: str) -> HttpResponse:
    status = 404 if gone.code == "unknown_link" else 410
    return render(request, "clients/form_gone.html", {"gone": gone, "token": token}, status=status)
