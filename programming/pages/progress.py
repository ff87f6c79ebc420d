"""A client's progress: what waits for a decision, every exercise, the plan over weeks, the load, the levels."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from programming.actions import decisions, grants, levels
from programming.actions import progress as progress_actions
from programming.forms.progress import GrantForm, LevelForm, StepForm
from programming.pages.reasons import ask, asks_why, reason_for
from programming.queries import exercise_history
from programming.rules.plan import PAGES
from programming.rules.progress import Step
from studio.doors import me
from studio.rules import ApparatusKind, Reason, Refused

NO_STEP = Reason("no_step", "Choose advance, repeat or step back.", "decided", "advance, repeat or step back")


@asks_why
def progress(request: HttpRequest, client_id: UUID) -> HttpResponse:
    why = reason_for(request, client_id)
    try:
        view = progress_actions.open_progress(client_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    return render(request, "programming/progress.html", {"view": view, "steps": list(Step)})


@asks_why
def plan(request: HttpRequest, client_id: UUID) -> HttpResponse:
    why, back = reason_for(request, client_id), _pages_back(request)
    try:
        view = progress_actions.open_plan(client_id, by=me(request), now=timezone.now(), back=back, why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    return render(request, "programming/plan.html", {"view": view})


@asks_why
def load(request: HttpRequest, client_id: UUID) -> HttpResponse:
    why = reason_for(request, client_id)
    try:
        view = progress_actions.open_load(client_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    return render(request, "programming/load.html", {"view": view})


@asks_why
def exercise_progress(request: HttpRequest, client_id: UUID, exercise_id: str) -> HttpResponse:
    """One exercise of a client, and a senior teacher's word on it."""
    why, now = reason_for(request, client_id), timezone.now()
    form = GrantForm(request.POST if _is_deed(request) else None)
    if form.is_bound and form.is_valid() and _granted(request, client_id, exercise_id, form, why):
        return redirect("programming:exercise-progress", client_id, exercise_id)
    try:
        view = progress_actions.open_exercise(client_id, exercise_id, by=me(request), now=now, why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    status = 409 if form.is_bound and form.errors else 200
    shown = {"view": view, "form": form, "steps": list(Step)}
    return render(request, "programming/exercise_progress.html", shown, status=status)


@require_POST
def decide(request: HttpRequest, client_id: UUID, exercise_id: str) -> HttpResponse:
    form = StepForm(request.POST)
    if not form.is_valid():
        raise Refused(NO_STEP)
    decided, why = form.cleaned_data["decided"], reason_for(request, client_id)
    row = decisions.decide_step(
        client_id, exercise_id=exercise_id, decided=decided, by=me(request), now=timezone.now(), why=why
    )
    _said(request, f"Decided: {decided.words}.", reverse("programming:decision-back", args=[row.pk]))
    return redirect("programming:progress", client_id)


@require_POST
def decision_back(request: HttpRequest, decision_id: UUID) -> HttpResponse:
    client_id, _ = exercise_history.client_of_decision(decision_id)
    why = reason_for(request, client_id)
    decisions.take_back_step(decision_id, by=me(request), now=timezone.now(), why=why)
    messages.success(request, "Taken back. It waits for a decision again.")
    return redirect("programming:progress", client_id)


@require_POST
def grant_back(request: HttpRequest, grant_id: UUID) -> HttpResponse:
    client_id, exercise_id = exercise_history.client_of_grant(grant_id)
    why = reason_for(request, client_id)
    grants.take_back_grant(grant_id, by=me(request), now=timezone.now(), why=why)
    messages.success(request, "Taken back. What the log says holds again.")
    return redirect("programming:exercise-progress", client_id, exercise_id)


@asks_why
def level(request: HttpRequest, client_id: UUID, apparatus_kind: str) -> HttpResponse:
    """Sign how far a client may go on one kind of apparatus."""
    why, kind = reason_for(request, client_id), _kind(apparatus_kind)
    form = LevelForm(request.POST if _is_deed(request) else None)
    if form.is_bound and form.is_valid() and _signed(request, client_id, kind, form, why):
        return redirect("programming:progress", client_id)
    try:
        view = progress_actions.open_progress(client_id, by=me(request), now=timezone.now(), why=why)
    except Refused as refused:
        return ask(request, client_id, refused)
    return _level_page(request, view, kind, form)


def _level_page(request: HttpRequest, view: Any, kind: ApparatusKind, form: LevelForm) -> HttpResponse:
    row = view.level_of(kind)
    form.initial = {"level": row.check.onward or row.check.level}
    status = 409 if form.is_bound and form.errors else 200
    return render(request, "programming/level.html", {"view": view, "row": row, "form": form}, status=status)


def _granted(request: HttpRequest, client_id: UUID, exercise_id: str, form: GrantForm, why: str) -> bool:
    given, now = form.cleaned_data, timezone.now()
    owned = given["owned"] == "yes"
    try:
        row = grants.grant_exercise(
            client_id, exercise_id=exercise_id, owned=owned, reason=given["reason"], by=me(request), now=now, why=why
        )
    except Refused as refused:
        return _beside(form, refused)
    _said(request, "Granted." if owned else "Withdrawn.", reverse("programming:grant-back", args=[row.pk]))
    return True


def _signed(request: HttpRequest, client_id: UUID, kind: ApparatusKind, form: LevelForm, why: str) -> bool:
    try:
        signed = levels.sign_level(
            client_id, kind=kind, by=me(request), now=timezone.now(), why=why, **form.cleaned_data
        )
    except Refused as refused:
        return _beside(form, refused)
    messages.success(request, f"Signed: up to level {signed.level} on the {kind.value}.")
    return True


def _beside(form: GrantForm | LevelForm, refused: Refused) -> bool:
    """Each reason beside its field; a reason for a look is asked on a page of its own, so it is raised again."""
    if any(reason.code in ("say_why", "not_open") for reason in refused.reasons):
        raise refused
    for reason in refused.reasons:
        says = f"{reason.says} Possible: {reason.allowed}." if reason.allowed else reason.says
        form.add_error(reason.field if reason.field in form.fields else None, says)
    return False


def _said(request: HttpRequest, says: str, undo: str) -> None:
    messages.success(request, says, extra_tags=f"undo:{undo}")


def _is_deed(request: HttpRequest) -> bool:
    return request.method == "POST" and "look" not in request.POST


def _kind(word: str) -> ApparatusKind:
    if word not in set(ApparatusKind):
        kinds = ", ".join(ApparatusKind)
        raise Refused(Reason("unknown_kind", "There is no such kind of apparatus.", "kind", kinds))
    return ApparatusKind(word)


def _pages_back(request: HttpRequest) -> int:
    """How many pages of twelve weeks ago, within what anybody has been coming for."""
    word = request.GET.get("back", "")
    return min(int(word), PAGES) if word.isascii() and word.isdigit() and len(word) < 4 else 0
