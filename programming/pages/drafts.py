"""Templates: the list, a new one, what one is about, what becomes of it, and two versions beside each other."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from programming.actions import approvals, drafts
from programming.forms.templates import AboutForm, AnswerForm, DecideForm
from programming.pages.builder import show
from programming.queries import builder as builder_queries
from programming.queries import versions
from programming.queries.drafts import About
from studio.doors import me
from studio.rules import Reason, Refused, Role

STATES = (("", "in work and in use"), ("draft", "drafts"), ("proposed", "with the owner"), ("active", "in use"),
          ("retired", "retired"))  # fmt: skip
TOLD = {
    "propose": "With the owner now.",
    "take_back": "It is a draft again.",
    "retire": "Put away. Programs made from it stay as they are.",
    "bring_back": "Back where it was.",
    "copy": "Copied: this is the draft of the copy.",
    "next": "This is the draft of the next version; the one in use stays until this is approved.",
    "approve": "In use now.",
    "send_back": "Sent back with your words.",
}
page_or_post = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def template_list(request: HttpRequest) -> HttpResponse:
    state = request.GET.get("state", "")
    state = state if state in dict(STATES) else ""
    text = request.GET.get("q", "")
    counts = versions.state_counts()
    tabs = [
        (key, word, counts.get(key, counts["draft"] + counts["proposed"] + counts["active"])) for key, word in STATES
    ]
    found = {"rows": versions.templates(state=state, text=text), "state": state, "q": text, "tabs": tabs}
    return render(request, "programming/template_list.html", found | {"is_owner": me(request).has_role(Role.OWNER)})


@page_or_post
def template_new(request: HttpRequest) -> HttpResponse:
    start = {"kind": "reformer", "level": 2, "minutes": 55}
    form = AboutForm(request.POST if request.method == "POST" else None, initial=start)
    if form.is_bound and form.is_valid():
        given = {name: value for name, value in form.cleaned_data.items() if name != "revision"}
        try:
            made = drafts.new_template(**given, by=me(request), now=timezone.now())
            return redirect("programming:template", made.pk)
        except Refused as refused:
            _beside(form, refused)
    return render(request, "programming/template_about.html", {"form": form}, status=_status(form))


@page_or_post
def template_about(request: HttpRequest, template_id: UUID) -> HttpResponse:
    head = builder_queries.head(template_id)
    start = {**vars(head.about), "kind": head.about.kind.value, "revision": head.revision}
    form = AboutForm(request.POST if request.method == "POST" else None, initial=start)
    if form.is_bound and form.is_valid() and _described(request, template_id, form):
        return redirect("programming:template", template_id)
    return render(request, "programming/template_about.html", {"form": form, "head": head}, status=_status(form))


def _described(request: HttpRequest, template_id: UUID, form: AboutForm) -> bool:
    given = dict(form.cleaned_data)
    revision = given.pop("revision") or 0
    try:
        drafts.describe_draft(template_id, about=About(**given), revision=revision, by=me(request), now=timezone.now())
    except Refused as refused:
        _beside(form, refused)
        return False
    return True


def _whatever_revision(way: Callable[..., Any]) -> Callable[..., Any]:
    """Only handing on asks which version of the draft was seen."""
    return lambda template_id, *, revision, by, now: way(template_id, by=by, now=now)


WAYS: dict[str, Callable[..., Any]] = {
    "propose": approvals.propose_template,
    "take_back": _whatever_revision(approvals.take_back_template),
    "retire": _whatever_revision(approvals.retire_template),
    "bring_back": _whatever_revision(approvals.bring_back_template),
    "copy": _whatever_revision(approvals.copy_template),
    "next": _whatever_revision(approvals.next_version),
}


@require_POST
def template_decide(request: HttpRequest, template_id: UUID) -> HttpResponse:
    """Hand it on, take it back, put it away, bring it back, copy it, begin its next version."""
    form = DecideForm(request.POST)
    if not form.is_valid():
        raise Refused(Reason("wrong_input", "That button is not known here.", "deed", "Open the page again."))
    deed = form.cleaned_data["deed"]
    try:
        done = WAYS[deed](template_id, revision=form.cleaned_data["revision"] or 0, by=me(request), now=timezone.now())
    except Refused as refused:
        return show(request, template_id, status=409, refused=refused.reasons)
    messages.success(request, TOLD["approve"] if (deed, done.state) == ("propose", "active") else TOLD[deed])
    return redirect("programming:template", done.pk)


@require_POST
def template_answer(request: HttpRequest, template_id: UUID) -> HttpResponse:
    """The owner's word on a proposed template."""
    form = AnswerForm(request.POST)
    if not form.is_valid():
        raise Refused(Reason("wrong_input", "That answer is not known here.", "deed", "Open the page again."))
    try:
        _answered(request, template_id, form.cleaned_data)
    except Refused as refused:
        return show(request, template_id, status=409, refused=refused.reasons)
    return redirect("programming:template", template_id)


def _answered(request: HttpRequest, template_id: UUID, given: dict[str, str]) -> None:
    if given["deed"] == "approve":
        approvals.approve_template(template_id, by=me(request), now=timezone.now())
    else:
        approvals.send_back_template(template_id, words=given["words"], by=me(request), now=timezone.now())
    messages.success(request, TOLD[given["deed"]])


@require_safe
def template_compare(request: HttpRequest, template_id: UUID) -> HttpResponse:
    head, found = builder_queries.head(template_id), versions.comparison(template_id, _other(request))
    only = request.GET.get("only") == "changed"
    return render(request, "programming/template_compare.html", {"head": head, "found": found, "only": only})


def _other(request: HttpRequest) -> UUID | None:
    try:
        return UUID(request.GET.get("with", ""))
    except ValueError:
        return None


def _beside(form: AboutForm, refused: Refused) -> None:
    for reason in refused.reasons:
        form.add_error(reason.field if reason.field in form.fields else None, f"{reason.says} {reason.allowed}".strip())


def _status(form: Any) -> int:
    return 409 if form.is_bound and form.errors else 200
