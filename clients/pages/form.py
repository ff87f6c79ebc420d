"""The health form by its private link: one question a screen, saved as it goes, read back, signed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from clients import actions, forms, queries
from clients.rules import form as rules
from studio import queries as studio_queries
from studio.doors import me

MOST_WORDS = 20_000


@dataclass(frozen=True)
class Sent:
    """What came back from a screen that was not kept whole: messages by field, what was posted, and what somebody else
    wrote meanwhile."""

    errors: Mapping[str, str] = field(default_factory=dict)
    posted: Mapping[str, list[str]] = field(default_factory=dict)
    meanwhile: Mapping[str, str] = field(default_factory=dict)


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
        opened = _open(request, token)
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
        opened = _open(request, token)
    except actions.LinkGone as gone:
        return _gone(request, gone, token)
    return _ask(request, token, screen_id, opened, Sent())


@require_http_methods(["GET", "POST"])
def form_card(request: HttpRequest, token: str) -> HttpResponse:
    try:
        if request.method == "POST":
            return _sign(request, token)
        opened = _open(request, token)
    except actions.LinkGone as gone:
        return _gone(request, gone, token)
    return _card(request, token, opened, forms.SignForm(), {})


@require_GET
def form_later(request: HttpRequest, token: str) -> HttpResponse:
    try:
        opened = _open(request, token)
    except actions.LinkGone as gone:
        return _gone(request, gone, token)
    return render(request, "clients/form_later.html", {"opened": opened, "token": token, "go_on": _place(opened)})


@require_GET
def form_signed(request: HttpRequest, token: str) -> HttpResponse:
    try:
        signed = actions.signed_outcome(token, now=timezone.now(), by=_staff(request))
    except actions.LinkGone as gone:
        return _gone(request, gone, token)
    return render(request, "clients/form_signed.html", {"signed": signed, "business": studio_queries.business()})


def _staff(request: HttpRequest) -> Any:
    """Who is signed in, for a form that is typed in as told; nobody for a client."""
    return me(request) if request.user.is_authenticated else None


def _open(request: HttpRequest, token: str) -> actions.OpenForm:
    return actions.open_form(token, now=timezone.now(), by=_staff(request))


def _place(opened: actions.OpenForm) -> str:
    """The id of the screen to go on with; the card's when all is answered."""
    due = opened.due
    if due[-1].kind == "emergency":
        return due[-1].id
    if opened.at_screen in [screen.id for screen in due]:
        return opened.at_screen
    following = opened.walk.next(opened.answers)
    return following.id if following else "card"


def _save(request: HttpRequest, token: str, screen_id: str) -> HttpResponse:
    posted = dict(request.POST.lists())
    saved = actions.save_screen(
        token, screen_id=screen_id, posted=posted, now=timezone.now(), by=_staff(request), saves=_version(posted)
    )
    if saved.meanwhile:
        return _ask(request, token, screen_id, _open(request, token), Sent({}, posted, saved.meanwhile))
    # What is only missing may wait when somebody goes on later; what cannot be right may not.
    is_later = "later" in posted
    errors = {key: says for key, says in saved.errors.items() if not is_later or any(posted.get(key, []))}
    if errors:
        return _ask(request, token, screen_id, _open(request, token), Sent(errors, posted))
    if saved.is_turned:
        messages.info(request, "Thank you. We now go through the whole form; your earlier answers stand in it.")
    if is_later and not saved.is_emergency:
        return redirect("clients:form-later", token)
    following = "" if saved.is_emergency else _back_to_card(request, token, posted)
    following = following or saved.next_screen
    if following and following != "card":
        return redirect("clients:form-screen", token, following)
    return redirect("clients:form-card", token)


def _back_to_card(request: HttpRequest, token: str, posted: Mapping[str, list[str]]) -> str:
    """Where somebody goes on who came from the card to change one answer: what that opened, else the card."""
    if "card" not in posted:
        return ""
    opened = _open(request, token)
    following = opened.walk.next(opened.answers)
    return following.id if following else "card"


def _version(posted: Mapping[str, list[str]]) -> int | None:
    """Which version of the form the page was opened with; None when it does not say."""
    told = posted.get("saves", [""])[0]
    return int(told) if told.isascii() and told.isdigit() and len(told) < 10 else None


def _ask(request: HttpRequest, token: str, screen_id: str, opened: actions.OpenForm, sent: Sent) -> HttpResponse:
    due = opened.due
    at = next((at for at, one in enumerate(due) if one.id == screen_id), None)
    if at is None:
        return redirect("clients:form", token)
    if due[at].kind == "emergency":
        return _emergency(request, token, opened)
    screen = due[at]
    shared_help = _shared_help(screen)
    shown: dict[str, Any] = {
        "screen": screen,
        "asks": [_as_drawn(field, opened.answers, sent, shared_help) for field in screen.fields],
        "errors": [(field, sent.errors[field.id]) for field in screen.fields if field.id in sent.errors],
        "meanwhile": [(field, sent.meanwhile[field.id]) for field in screen.fields if field.id in sent.meanwhile],
        "shared_help": shared_help,
        "token": token,
        "at": at + 1,
        "of": sum(one.kind != "emergency" for one in due),
        "before": due[at - 1].id if at else "",
        "from_card": "card" in request.GET or "card" in sent.posted,
        "opened": opened,
    }
    status = 409 if sent.meanwhile else 422 if sent.errors else 200
    return render(request, "clients/form_screen.html", shown, status=status)


def _emergency(request: HttpRequest, token: str, opened: actions.OpenForm) -> HttpResponse:
    shown = {
        "screen": opened.due[-1],
        "begun": opened.due[:-1],
        "token": token,
        "opened": opened,
        "business": studio_queries.business(),
    }
    return render(request, "clients/form_emergency.html", shown)


def _shared_help(screen: rules.Screen) -> str:
    """A hint that every field of the screen carries is said once, above them all."""
    helps = {field.help for field in screen.fields}
    return helps.pop() if len(screen.fields) > 1 and len(helps) == 1 else ""


def _as_drawn(
    field: rules.Field,
    answers: Mapping[str, Any],
    sent: Sent,
    shared_help: str,
) -> Ask:
    told = answers.get(field.id)
    if field.id in sent.errors or sent.meanwhile:
        words = [one[:MOST_WORDS] for one in sent.posted.get(field.id, [])]
        told = words if field.kind is rules.FieldKind.MANY else " ".join(words)
    elif field.kind is rules.FieldKind.PRESSURE and isinstance(told, dict):
        told = f"{told['systolic']}/{told['diastolic']}"
    elif told is None:
        told = ""
    return Ask(field, told, sent.errors.get(field.id, ""), shared_help)


def _card(
    request: HttpRequest, token: str, opened: actions.OpenForm, form: forms.SignForm, said: dict[str, Any]
) -> HttpResponse:
    due, walk = opened.due, opened.walk
    if due[-1].kind == "emergency":
        return redirect("clients:form-screen", token, due[-1].id)
    summary = rules.summary(opened.rulebook, opened.answers, on=opened.today, born_on=opened.born_on)
    shown = {
        "opened": opened,
        "lines": summary,
        "missing": walk.unanswered(opened.answers),
        "doubts": [_as_asked(one, due) for one in walk.doubts(opened.answers)],
        "expecting": rules.expecting(opened.rulebook, opened.answers, on=opened.today),
        "consents": [(one, form.data.get(one.kind, "")) for one in queries.consents_of(opened.client_id)],
        "last": due[-1].id,
        "form": form,
        "token": token,
        "business": studio_queries.business(),
    }
    return render(request, "clients/form_card.html", shown | said, status=422 if form.errors else 200)


def _as_asked(doubt: rules.Doubt, due: list[rules.Screen]) -> tuple[str, list[tuple[str, str]]]:
    """A question back, and the screens to put it right on: each one's id and title."""
    titles = {screen.id: screen.title for screen in due}
    places = [one for one in (doubt.screen_id, doubt.other_screen_id) if one in titles]
    return doubt.says, [(one, titles[one]) for one in places]


def _sign(request: HttpRequest, token: str) -> HttpResponse:
    form, by = forms.SignForm(request.POST), _staff(request)
    if form.carried_out(lambda _: actions.sign_form(token, **form.signature(), now=timezone.now(), by=by)):
        return redirect("clients:form-signed", token)
    try:
        opened = _open(request, token)
    except actions.LinkGone as gone:
        if gone.code == "signed_link" and _is_second_tap(form, token, by):
            return redirect("clients:form-signed", token)
        raise
    return _card(request, token, opened, form, {"asked": True})


def _is_second_tap(form: forms.SignForm, token: str, by: Any) -> bool:
    """Whether the very name that is signed already was sent once more."""
    signed = actions.signed_outcome(token, now=timezone.now(), by=by)
    return " ".join(str(form.cleaned_data.get("name", "")).split()) == signed.signed_name


def _gone(request: HttpRequest, gone: actions.LinkGone, token: str) -> HttpResponse:
    status = {"unknown_link": 404, "told_link": 403}.get(gone.code, 410)
    return render(request, "clients/form_gone.html", {"gone": gone, "token": token}, status=status)
