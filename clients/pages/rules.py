"""The rules to read, as tables with their sources."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from clients import queries
from clients.queries import runs as run_queries
from clients.queries import tables
from clients.queries import versions as version_queries
from studio.doors import me
from studio.rules import Role


@require_safe
def rules(request: HttpRequest) -> HttpResponse:
    shown = {
        "names": tables.names(),
        "version": version_queries.version(queries.rules_in_force().id),
        "runs": run_queries.newest_runs() if is_owner(request) else (),
        "owns": is_owner(request),
    }
    return render(request, "clients/rules.html", shown)


@require_safe
def rules_table(request: HttpRequest, slug: str) -> HttpResponse:
    """One table of the version in force, or of the one asked for."""
    shown_rules = rules_asked_for(request.GET.get("version", ""))
    found = tables.rule_table(slug, shown_rules.rulebook, choices=queries.choices())
    if found is None:
        raise Http404
    shown = {
        "table": found,
        "names": tables.names(),
        "version": version_queries.version(shown_rules.id),
        "owns": is_owner(request),
    }
    return render(request, "clients/rules_table.html", shown)


def rules_asked_for(words: str) -> queries.RulesInForce:
    """The version with this number, the one in force for an empty word. Raises Http404 for no number."""
    if not words:
        return queries.rules_in_force()
    if not (words.isascii() and words.isdecimal() and len(words) < 10):
        raise Http404
    return queries.rules_of(int(words))


def is_owner(request: HttpRequest) -> bool:
    return bool(me(request).has_role(Role.OWNER))
