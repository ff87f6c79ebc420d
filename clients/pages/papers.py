"""The health form on paper: an empty one to fill in by hand, and a signed version read back."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from clients import actions, forms, queries
from clients.rules import form as rules
from studio import queries as studio_queries
from studio.doors import me, paper

# Own words for which one line on paper is enough.
SHORT = frozenset({"when", "treated_by", "birth_by", "who"})


@require_GET
def blank_form(request: HttpRequest) -> HttpResponse:
    """Every question with its boxes and lines, for whoever would rather write by hand."""
    in_force = queries.rules_in_force()
    screens = rules.every_screen(in_force.rulebook, on=queries.house_day(timezone.now()))
    parts = [_part(screen, in_force.rulebook) for screen in screens]
    values = _head(is_reviewed=in_force.reviewed_on is not None) | {"parts": parts}
    return paper.answer(paper.pdf("clients/paper_blank.typ", values), name="health-form.pdf")


@require_POST
def version_paper(request: HttpRequest, client_id: UUID, version: int) -> HttpResponse:
    """One signed version as it was answered; the reason of whoever has no care for the client travels in the body."""
    form = forms.VersionsForm(request.POST)
    why = form.cleaned_data["why"] if form.is_valid() else ""
    read = actions.read_version(client_id, version, by=me(request), now=timezone.now(), why=why)
    values = _head(is_reviewed=read.is_reviewed) | _signed(read) | {"printed_by": me(request).name}
    return paper.answer(paper.pdf("clients/paper_signed.typ", values), name=f"health-form-{version}.pdf")


def _head(*, is_reviewed: bool) -> dict[str, Any]:
    business = studio_queries.business()
    return {
        "house": business.name if business else "",
        "emergency_number": (business.emergency_number if business else "") or "your local emergency number",
        "is_reviewed": is_reviewed,
        "printed_on": _words(queries.house_day(timezone.now())),
    }


def _part(screen: rules.Screen, rulebook: Any) -> dict[str, Any]:
    return {
        "title": screen.title,
        "question": screen.question,
        "why": screen.why,
        "follows": rules.follows(screen, rulebook),
        "condition": screen.question if screen.id in rulebook.conditions else "",
        "asks": [_ask(field) for field in screen.fields],
    }


def _ask(field: rules.Field) -> dict[str, Any]:
    return {
        "label": field.label,
        "kind": field.kind.value,
        "choices": [choice.label for choice in field.choices],
        "is_short": field.id.rpartition(".")[2] in SHORT,
    }


def _signed(read: actions.VersionRead) -> dict[str, Any]:
    line = read.line
    titles = list(dict.fromkeys(one.title for one in read.told))
    return {
        "name": read.name,
        "born_on": _words(read.born_on) if read.born_on else "",
        "version": line.version,
        "kind": line.kind,
        "signed_on": _words(line.signed_on),
        "signed_name": line.signed_name,
        "signed_as": line.signed_as,
        "told_to": line.told_to,
        "on_paper_of": _words(line.on_paper_of) if line.on_paper_of else "",
        "parts": [
            {"title": title, "told": [[one.question, one.words] for one in read.told if one.title == title]}
            for title in titles
        ],
    }


def _words(day: Any) -> str:
    return f"{day.day} {day:%B} {day.year}"
