"""Changing the repertoire: an owner does it at once, a teacher proposes it, and the owner decides."""

import re
from collections.abc import Callable, Mapping
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from programming.actions import entries, proposals
from programming.forms.repertoire import AnswerForm, EntryForm, NewRowForm, NewStepForm, ReasonForm, RowForm, StepForm
from programming.queries import exercises
from programming.queries import proposals as queries
from programming.rules.entries import About
from studio.doors import me
from studio.doors.fields import posted
from studio.rules import Role

Row = Mapping[str, str]
KEY = re.compile(r"[A-Za-z0-9-]{1,40}")
form_page = require_http_methods(["GET", "HEAD", "POST"])


@form_page
def change_exercise(request: HttpRequest, exercise_id: str) -> HttpResponse:
    """A row's columns to be changed; with `?version=` those of an older one, to go back to it."""
    entry = queries.entry(About.EXERCISE, exercise_id)
    form = _row_form(RowForm, request, _filled(request, entry), version=entry.version)
    if _sent(request, form, lambda columns: _change(request, entry, form, columns)):
        return redirect("programming:exercise", exercise_id)
    return _shown(request, "programming/exercise_change.html", form, entry=entry)


@form_page
def new_exercise(request: HttpRequest) -> HttpResponse:
    """A row of the studio's own; with `?like=` filled in from one that is there."""
    form = _row_form(NewRowForm, request, _like(request))
    made: list[str] = []
    if _sent(request, form, lambda columns: made.append(_add(request, About.EXERCISE, form, columns))):
        return redirect("programming:exercise", made[0]) if made[0] else redirect("programming:proposals")
    return _shown(request, "programming/exercise_new.html", form)


@form_page
def step(request: HttpRequest, step_code: str) -> HttpResponse:
    """A step of a ladder: its versions, and the form to change it."""
    entry = queries.entry(About.STEP, step_code)
    row = _filled(request, entry)
    form = StepForm(posted(request), row=row, demands=exercises.demands())
    form.initial["base"] = entry.version
    if _sent(request, form, lambda columns: _change(request, entry, form, columns)):
        return redirect("programming:step", step_code)
    found = {"versions": queries.versions(About.STEP, step_code), "targets": queries.targets(entry.columns)}
    return _shown(request, "programming/step.html", form, entry=entry, **found)


@form_page
def new_step(request: HttpRequest) -> HttpResponse:
    """A step of the studio's own; `?exercise=` is the row it is for."""
    row = {"repertoire_ids": _key(request, "exercise"), "kind": "setup"}
    row["ladder"] = queries.ladder_of(row["repertoire_ids"])
    form = NewStepForm(posted(request), row=row, demands=exercises.demands(), ladders=queries.ladder_names())
    made: list[str] = []
    if _sent(request, form, lambda columns: made.append(_add(request, About.STEP, form, columns))):
        return redirect("programming:step", made[0]) if made[0] else redirect("programming:proposals")
    return _shown(request, "programming/step_new.html", form)


@form_page
def retire_exercise(request: HttpRequest, exercise_id: str) -> HttpResponse:
    return _retiring(request, About.EXERCISE, exercise_id, reverse("programming:exercise", args=[exercise_id]))


@form_page
def retire_step(request: HttpRequest, step_code: str) -> HttpResponse:
    return _retiring(request, About.STEP, step_code, reverse("programming:step", args=[step_code]))


@require_POST
def bring_back_exercise(request: HttpRequest, exercise_id: str) -> HttpResponse:
    entries.bring_back(About.EXERCISE, exercise_id, by=me(request), now=timezone.now())
    messages.success(request, "Back in use.")
    return redirect("programming:exercise", exercise_id)


@require_POST
def bring_back_step(request: HttpRequest, step_code: str) -> HttpResponse:
    entries.bring_back(About.STEP, step_code, by=me(request), now=timezone.now())
    messages.success(request, "Back in use.")
    return redirect("programming:step", step_code)


@require_safe
def all_proposals(request: HttpRequest) -> HttpResponse:
    found = queries.proposals()
    page = {"waiting": [one for one in found if one.is_open], "decided": [one for one in found if not one.is_open]}
    return render(request, "programming/proposals.html", page | _may(request))


@require_safe
def waiting(request: HttpRequest) -> HttpResponse:
    """What teachers ask the owner to decide, as a panel of the office; empty when nothing waits."""
    found = {"waiting": queries.proposals(open_only=True), "templates": queries.templates_waiting()}
    return render(request, "programming/_waiting_panel.html", found)


@require_safe
def proposal(request: HttpRequest, proposal_id: UUID) -> HttpResponse:
    view = queries.proposal(proposal_id)
    form = AnswerForm(initial={"seen": view.seen_version})
    return render(request, "programming/proposal.html", {"view": view, "form": form} | _may(request))


@require_POST
def decide(request: HttpRequest, proposal_id: UUID) -> HttpResponse:
    """Taken over or turned down; either can be taken back."""
    form, deed = AnswerForm(request.POST), request.POST.get("deed", "")
    if form.carried_out(lambda told: _decided(request, proposal_id, deed, told)):
        undo = reverse("programming:take-back", args=[proposal_id])
        messages.success(request, _said(deed), extra_tags=f"undo:{undo}")
        return redirect("programming:proposals")
    found = {"view": queries.proposal(proposal_id), "form": form} | _may(request)
    return render(request, "programming/proposal.html", found, status=409)


@require_POST
def withdraw(request: HttpRequest, proposal_id: UUID) -> HttpResponse:
    proposals.withdraw_proposal(proposal_id, by=me(request), now=timezone.now())
    undo = reverse("programming:take-back", args=[proposal_id])
    messages.success(request, "Withdrawn.", extra_tags=f"undo:{undo}")
    return redirect("programming:proposals")


@require_POST
def take_back(request: HttpRequest, proposal_id: UUID) -> HttpResponse:
    """The proposal is open again, and what was taken over is as it was before."""
    proposals.take_decision_back(proposal_id, by=me(request), now=timezone.now())
    messages.success(request, "Taken back: the proposal is open again.")
    return redirect("programming:proposal", proposal_id)


def _retiring(request: HttpRequest, about: About, key: str, back: str) -> HttpResponse:
    entry, form = queries.entry(about, key), ReasonForm(posted(request))
    if form.carried_out(lambda told: _retire(request, about, key, told["why"])):
        messages.success(request, "Out of use." if _is_owner(request) else "Proposed. An owner decides.")
        return redirect(back)
    return _shown(request, "programming/retire.html", form, entry=entry, back=back)


def _retire(request: HttpRequest, about: About, key: str, why: str) -> None:
    deed = entries.retire_entry if _is_owner(request) else proposals.propose_retiring
    deed(about, key, why=why, by=me(request), now=timezone.now())


def _change(request: HttpRequest, entry: queries.Entry, form: EntryForm, columns: dict[str, str]) -> None:
    told = form.cleaned_data
    deed = entries.change_entry if _is_owner(request) else proposals.propose_change
    deed(
        entry.about, entry.key, wanted=columns, why=told["why"], seen_version=told["base"], by=me(request),
        now=timezone.now(),
    )  # fmt: skip


def _add(request: HttpRequest, about: About, form: EntryForm, columns: dict[str, str]) -> str:
    """The key of what was added; empty when it was proposed."""
    why = form.cleaned_data["why"]
    if _is_owner(request):
        return entries.add_entry(about, wanted=columns, why=why, by=me(request), now=timezone.now())
    proposals.propose_new(about, wanted=columns, why=why, by=me(request), now=timezone.now())
    return ""


def _sent(request: HttpRequest, form: EntryForm, deed: Callable[[dict[str, str]], None]) -> bool:
    """Whether a posted form was carried out; if it was, the message says what came of it."""
    if not (form.is_bound and form.carried_out(lambda _: deed(form.columns()))):
        return False
    messages.success(
        request,
        "Kept. Programs fitted before stay as they are." if _is_owner(request) else "Proposed. An owner decides.",
    )
    return True


def _decided(request: HttpRequest, proposal_id: UUID, deed: str, told: dict[str, Any]) -> None:
    by, now, answer = me(request), timezone.now(), told["answer"]
    if deed == "take_over":
        proposals.take_over(proposal_id, answer=answer, seen_version=told["seen"], by=by, now=now)
    else:
        proposals.turn_down(proposal_id, answer=answer, by=by, now=now)


def _said(deed: str) -> str:
    return "Taken over. Programs fitted before stay as they are." if deed == "take_over" else "Turned down."


def _shown(request: HttpRequest, template: str, form: Any, **found: Any) -> HttpResponse:
    """The page with its form; a refused one keeps what was typed and is sent again against the newest version."""
    if form.is_bound and "entry" in found and "base" in form.fields:
        form.data = form.data.copy()
        form.data["base"] = found["entry"].version
    page = {"form": form, **found} | _may(request)
    return render(request, template, page, status=409 if form.is_bound else 200)


def _row_form(kind: type[RowForm], request: HttpRequest, row: Row, *, version: int | None = None) -> RowForm:
    found = exercises.choices()
    form = kind(
        posted(request),
        row=row,
        aims=found.aims,
        positions=found.positions,
        demands=found.demands,
        setup=exercises.setup_hint(row.get("apparatus", "")),
    )
    form.initial["base"] = version
    return form


def _filled(request: HttpRequest, entry: queries.Entry) -> Row:
    """What the form starts from: the row as it is, with the columns of the version that is asked for."""
    asked = request.GET.get("version", "")
    older = queries.columns_at(entry.about, entry.key, asked) if asked else {}
    names = entry.about.columns(is_new=False)
    return {**entry.columns, **{name: older[name] for name in names if name in older}}


def _like(request: HttpRequest) -> Row:
    row = queries.columns_like(_key(request, "like"))
    return row or {"level": "1", "supervision": "2", "apparatus": request.GET.get("kind", "reformer")}


def _key(request: HttpRequest, name: str) -> str:
    """A key from the address; empty for what cannot be one."""
    key = request.GET.get(name, "")
    return key if KEY.fullmatch(key) else ""


def _may(request: HttpRequest) -> dict[str, Any]:
    return {"may_edit": _is_owner(request), "me_id": me(request).pk}


def _is_owner(request: HttpRequest) -> bool:
    return bool(me(request).has_role(Role.OWNER))
