"""A program as fitted, and the programs on a client's card."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from clients import queries as clients_queries
from programming import actions
from programming.pages.reasons import ask, asks_why, reason_for
from programming.queries import logs as log_queries
from programming.queries import programs as program_queries
from studio.doors import me
from studio.rules import Refused, Role


@asks_why
def program(request: HttpRequest, program_id: UUID) -> HttpResponse:
    client_id = program_queries.client_of(program_id)
    try:
        opened = actions.open_program(
            program_id, by=me(request), now=timezone.now(), why=reason_for(request, client_id)
        )
    except Refused as refused:
        return ask(request, client_id, refused)
    return render(
        request, "programming/program.html", {"opened": opened, "program": opened.view, "may_change": opened.may_change}
    )


@require_POST
def refit(request: HttpRequest, program_id: UUID) -> HttpResponse:
    why = reason_for(request, program_queries.client_of(program_id))
    fitted = actions.refit_program(program_id, by=me(request), now=timezone.now(), why=why)
    same = fitted.pk == program_id
    messages.success(request, "Fitted again: nothing had to change." if same else "Fitted again.")
    return redirect("programming:program", fitted.pk)


@require_safe
def client_panel(request: HttpRequest, client_id: UUID) -> HttpResponse:
    """Programs and where she stands; the owner sees that there are programs, those who teach her see the exercises."""
    on = clients_queries.house_day(timezone.now())
    may_read = clients_queries.may_read_health(me(request), client_id, on=on)
    found = {
        "client": clients_queries.card(client_id),
        "programs": program_queries.programs_of(client_id),
        "stands": log_queries.standings(client_id, on=on) if may_read else [],
        "may_read": may_read,
        "is_owner": me(request).has_role(Role.OWNER),
    }
    return render(request, "programming/_client_panel.html", found)
