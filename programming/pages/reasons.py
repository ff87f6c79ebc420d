"""Looking at a client one does not teach: the reason asked for once, and kept for the rest of the visit to it."""

from collections.abc import Callable, Collection
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from programming.forms import WhyForm
from studio.rules import Refused

Page = Callable[..., HttpResponse]
ASKS = {"say_why"}
KEPT = "reasons"


def reason_for(request: HttpRequest, client_id: UUID) -> str:
    """The reason this person gave for this client since logging in; empty when none."""
    return str(request.session.get(KEPT, {}).get(str(client_id), ""))


def ask(request: HttpRequest, client_id: UUID, refused: Refused) -> HttpResponse:
    """The reason box in place of the page; raises the refusal again when no reason would open it."""
    return ask_for_all(request, (client_id,), refused)


def reasons_for(request: HttpRequest, client_ids: Collection[UUID]) -> dict[UUID, str]:
    """`reason_for` of each of these people."""
    return {client_id: reason_for(request, client_id) for client_id in client_ids}


def ask_for_all(request: HttpRequest, client_ids: Collection[UUID], refused: Refused) -> HttpResponse:
    """As `ask`, once for several people; who had a reason of her own keeps it."""
    if not ASKS & {reason.code for reason in refused.reasons}:
        raise refused
    form = WhyForm(request.POST if "look" in request.POST else None)
    if form.is_bound and form.is_valid():
        said = dict.fromkeys(map(str, client_ids), form.cleaned_data["why"])
        request.session[KEPT] = {**said, **request.session.get(KEPT, {})}
        return redirect(request.get_full_path())
    return render(request, "programming/say_why.html", {"form": form, "reasons": refused.reasons}, status=403)


asks_why = require_http_methods(["GET", "HEAD", "POST"])
