"""The builder of a template: every tap is one post, answered with the page's own piece, or whole without a script."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from programming.actions import drafts
from programming.actions.drafts import Edited
from programming.forms.templates import DeedForm, LookForm, StandForm
from programming.queries import builder as builder_queries
from programming.queries import drafts as draft_queries
from programming.queries import shelves, versions
from programming.queries.builder import Looking
from programming.rules.timing import Pace
from studio import queries as studio_queries
from studio.doors import me
from studio.rules import Reason, Refused, Role

KEPT = ("machine", "pace", "open", "side", "kind", "q", "series")
SIDES = (("put", "Put in"), ("rules", "Rules"), ("about", "About"))


@require_safe
def template(request: HttpRequest, template_id: UUID) -> HttpResponse:
    return show(request, template_id)


@require_POST
def template_edit(request: HttpRequest, template_id: UUID) -> HttpResponse:
    """One deed: at a line, into the draft, or back."""
    form = DeedForm(request.POST)
    if not form.is_valid():
        return _wrong(request, template_id, form)
    try:
        return _answer(request, template_id, _done(request, template_id, form.cleaned_data))
    except Refused as refused:
        return _refused(request, template_id, refused)


TURNS = {"undo": drafts.undo_change, "redo": drafts.redo_change}


def _done(request: HttpRequest, template_id: UUID, given: dict[str, Any]) -> Edited:
    by, now, revision = me(request), timezone.now(), given["revision"]
    if turn := TURNS.get(given["deed"]):
        return turn(template_id, revision=revision, by=by, now=now)
    return drafts.edit_draft(template_id, edit=given["edit"], revision=revision, by=by, now=now)


@require_POST
def template_stand(request: HttpRequest, template_id: UUID) -> HttpResponse:
    """Let a warning stand with a reason, or take that back."""
    form = StandForm(request.POST)
    if not form.is_valid():
        return _wrong(request, template_id, form)
    try:
        done = drafts.let_stand(template_id, **form.cleaned_data, by=me(request), now=timezone.now())
    except Refused as refused:
        return _refused(request, template_id, refused)
    return _answer(request, template_id, done)


def _answer(request: HttpRequest, template_id: UUID, done: Edited) -> HttpResponse:
    if request.headers.get("HX-Request"):
        return show(request, template_id, done=done)
    messages.success(request, " ".join((done.says, *done.follows)))
    query = urlencode({name: value for name in KEPT if (value := request.GET.get(name))})
    address = reverse("programming:template", args=[template_id])
    line = f"line-{done.keys[0]}" if done.keys else "lines"
    return redirect(f"{address}{'?' if query else ''}{query}#{line}")


def _refused(request: HttpRequest, template_id: UUID, refused: Refused) -> HttpResponse:
    """The page as it stands now, what was refused, and, where another teacher was quicker, the same deed again."""
    meanwhile = [reason for reason in refused.reasons if reason.code == "changed_meanwhile"]
    others = draft_queries.changes_since(template_id, _revision(request)) if meanwhile else []
    again = [(name, value) for name, value in request.POST.items() if name not in ("csrfmiddlewaretoken", "revision")]
    found = {"refused": refused.reasons, "others": others, "again": again if meanwhile else []}
    return show(request, template_id, status=409, **found)


def _wrong(request: HttpRequest, template_id: UUID, form: Any) -> HttpResponse:
    reasons = [
        Reason("wrong_input", str(says), "" if name == "__all__" else name)
        for name, found in form.errors.items()
        for says in found
    ]
    return show(request, template_id, status=422, refused=reasons)


def _revision(request: HttpRequest) -> int:
    value = request.POST.get("revision", "")
    return int(value) if value.isdecimal() and len(value) < 10 else 0


def looking(values: Mapping[str, str]) -> tuple[Looking, dict[str, str]]:
    """How somebody looks, read from an address, with the words the page keeps in its links."""
    form = LookForm(values)
    form.is_valid()
    given: dict[str, Any] = {name: form.cleaned_data.get(name) or "" for name in KEPT}
    at = Looking(given["machine"] or None, Pace(given["pace"] or Pace.WORKING), given["open"] or 0)
    return at, {name: str(value) for name, value in given.items() if value}


def show(request: HttpRequest, template_id: UUID, *, status: int = 200, **found: Any) -> HttpResponse:
    """The whole page, or its changing piece for a script; `found` is what else it says."""
    at, kept = looking(request.GET)
    view = builder_queries.builder(template_id, at)
    whole = not request.headers.get("HX-Request") or request.headers.get("HX-History-Restore-Request")
    page = "programming/builder.html" if whole else "programming/_builder.html"
    return render(request, page, _context(request, view, kept) | found, status=status)


def _context(request: HttpRequest, view: builder_queries.BuilderView, kept: dict[str, str]) -> dict[str, Any]:
    is_draft = view.head.is_draft
    side = kept.get("side", "put" if is_draft else "rules")
    side = side if is_draft or side != "put" else "rules"
    kind = kept.get("kind", view.head.about.kind.value)
    return {
        "view": view,
        "head": view.head,
        "side": side,
        "sides": SIDES if is_draft else SIDES[1:],
        "base": reverse("programming:template", args=[view.head.id]),
        "kept": kept,
        "query": urlencode(kept),
        "closed": _without("open", kept),
        "unshelved": _without("series", {**kept, "side": "put"}),
        "onward": _without("side", kept),
        "kind": kind,
        "kinds": shelves.kinds_practised(),
        "paces": [pace.value for pace in Pace],
        "shelf": _shelf(view, kept, kind) if side == "put" else None,
        "history": draft_queries.newest_changes(view.head.id) if side == "about" else [],
        "versions": versions.versions_of(view.head.about.name) if side == "about" else [],
        "zone": studio_queries.house_zone(),
        "is_owner": me(request).has_role(Role.OWNER),
    }


def _without(name: str, kept: Mapping[str, str]) -> str:
    return urlencode({key: value for key, value in kept.items() if key != name})


def _shelf(view: builder_queries.BuilderView, kept: Mapping[str, str], kind: str) -> shelves.Shelf:
    return shelves.shelf(
        kind="" if kind == "any" else kind,
        text=kept.get("q", ""),
        level=view.head.about.level,
        used=view.used,
        opened=kept.get("series", ""),
    )
