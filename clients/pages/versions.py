"""The versions of a client's form for those who teach her: who signed what when, and what differs between two."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from clients import actions, forms, queries
from studio.doors import me
from studio.rules import Refused


@require_http_methods(["GET", "POST"])
def versions(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """The list, and two of them compared when a post names them; whoever has no care for the client first says why."""
    form = forms.VersionsForm(request.POST or None)
    told = form.cleaned_data if form.is_bound and form.is_valid() else {}
    ask = {"by": me(request), "now": timezone.now(), "why": told.get("why", "")}
    try:
        found = actions.form_versions(client_id, **ask)
    except Refused as refused:
        shown = {"form": forms.WhyForm(), "client": queries.card(client_id), "reasons": refused.reasons}
        shown |= {"opens": request.path}
        return render(request, "clients/health_why.html", shown, status=200 if request.method == "GET" else 409)
    pair = _pair(told, found)
    compared = actions.compare_versions(client_id, older=pair[0], newer=pair[1], **ask) if pair else None
    shown = {"found": found, "compared": compared, "why": ask["why"], "form": form}
    return render(request, "clients/versions.html", shown, status=422 if form.errors else 200)


def _pair(told: dict[str, object], found: actions.Versions) -> tuple[int, int] | None:
    """The two versions asked for, when both are in the list and are not the same."""
    known = {line.version for line in found.lines}
    older, newer = told.get("older"), told.get("newer")
    if not isinstance(older, int) or not isinstance(newer, int) or older == newer:
        return None
    return (older, newer) if {older, newer} <= known else None
